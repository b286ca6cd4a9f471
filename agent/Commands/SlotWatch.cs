using Cardassay.Agent.Guard;
using Cardassay.Agent.Sysfs;
using Cardassay.Trials;
using Cardassay.Wire;

namespace Cardassay.Agent.Commands;

/// <summary>The cards of this board: in slots of its own and in readers. Says when one was put in or taken out.</summary>
internal sealed class SlotWatch(SysfsTree tree, Action<AgentEvent, string> tell)
{
    private IReadOnlyList<V1.Slot> _cards = [];
    private IReadOnlyList<string> _traces = [];

    /// <summary>The cards as last looked at.</summary>
    internal IReadOnlyList<V1.Slot> Cards => _cards;

    /// <summary>Looks again, at what the kernel shows only. True when a card was put in, taken out or changed since.</summary>
    internal bool Look()
    {
        _traces = [.. Traces()]; // before the look: what changes during it is looked at again
        IReadOnlyList<V1.Slot> now = [.. Read()];
        V1.Slot[] gone = [.. _cards.ExceptBy(now.Select(Medium), Medium)];
        V1.Slot[] fresh = [.. now.ExceptBy(_cards.Select(Medium), Medium)];
        foreach (V1.Slot card in gone)
        {
            tell(AgentEvent.CardTakenOut, $"{card.DiskName}: card {card.Identity} was taken out");
        }

        foreach (V1.Slot card in fresh)
        {
            tell(AgentEvent.CardSeen, $"{card.DiskName}: card {card.Identity}");
        }

        _cards = now;
        return gone.Length + fresh.Length > 0;
    }

    /// <summary>
    /// Whether a look would find other cards, by the little that always changes with them. Cheap enough for every second of a run, which
    /// must not be measured beside a reading of all registers.
    /// </summary>
    internal bool HasChanged() => !Traces().SequenceEqual(_traces);

    /// <summary>
    /// Of every disk its name, its size in sectors, how many media the kernel has counted, and the card's own identification.
    /// </summary>
    private IEnumerable<string> Traces() =>
        tree.Names("sys/block").Select(disk => $"{disk} {Text(disk, "size")} {Text(disk, "diskseq")} {Text(disk, "device/cid")}");

    private string? Text(string disk, string file) => TextFile.Read(tree, $"sys/block/{disk}/{file}").Value;

    /// <summary>What makes it another card. What it counts of its wear, and what is mounted of it, changes while it stays in.</summary>
    private static (string, string, long, long?) Medium(V1.Slot slot) =>
        (slot.DiskName, slot.Identity, slot.DiskBytes, slot.HasDiskSequence ? slot.DiskSequence : null);

    private IEnumerable<V1.Slot> Read()
    {
        foreach (string disk in tree.Names("sys/block"))
        {
            bool isCard = disk.StartsWith("mmcblk", StringComparison.Ordinal) && !disk.Contains("boot", StringComparison.Ordinal)
                && !disk.Contains("rpmb", StringComparison.Ordinal);
            if (!isCard && !disk.StartsWith("sd", StringComparison.Ordinal))
            {
                continue;
            }

            if (CardSighting.Take(tree, disk) is not { DiskBytes: > 0 } card || (!isCard && card.Attachment != Attachment.Reader))
            {
                continue;
            }

            var slot = new V1.Slot
            {
                DiskName = disk,
                Identity = card.Identity.Text,
                IdentityFromRegisters = card.Identity.FromRegisters,
                DiskBytes = card.DiskBytes,
                Attachment = (uint)card.Attachment,
                HoldsSystem = new OverwriteGuard(tree).HoldsSystem(disk),
            };
            slot.Files.Add(RegisterFiles.ToMessages(card.Files));
            if (card.DiskSequence is { } sequence)
            {
                slot.DiskSequence = sequence;
            }

            yield return slot;
        }
    }
}
