using Cardassay.Agent.Conditions;
using Cardassay.Agent.Delivery;
using Cardassay.Agent.Sysfs;

namespace Cardassay.Agent.Commands;

/// <summary>How this board introduces itself, and to whom.</summary>
internal static class Boards
{
    internal static BoardCard Describe(SysfsTree tree, string? name)
    {
        BoardFacts facts = BoardFacts.Read(tree);
        _ = Guid.TryParse(facts.BootId.Value, out Guid bootId);
        return new BoardCard(name ?? facts.HostName.Value ?? "board", facts.Model.Value, bootId, AgentVersion.Text);
    }

    /// <summary>
    /// `/proc/device-tree/serial-number` (Devicetree Specification 0.4, section 3.2, root node), or null
    /// where the firmware tells none.
    /// </summary>
    internal static string? Serial(SysfsTree tree) =>
        TextFile.Read(tree, "proc/device-tree/serial-number").Value?.Replace("\\x00", "", StringComparison.Ordinal)
            .Trim() is { Length: > 0 } serial ? serial : null;

    /// <summary>The way to the collector named, else to the one this board joined; null when there is neither.</summary>
    /// <exception cref="CommandException">The address cannot be used, or the membership is not this board's.</exception>
    /// <exception cref="DeliveryException">The membership is damaged or open to others.</exception>
    internal static CollectorLink? Link(AgentFolder folder, SysfsTree tree, string? collector, bool plainText, string? boardName)
    {
        if (MeasureCommand.Collector(collector, plainText) is { } address)
        {
            return CollectorLink.PlainText(address);
        }

        if (Membership.Load(folder.Membership) is not { } membership)
        {
            return null;
        }

        string? wrong = membership.BoardSerial is { } joined && Serial(tree) is { } here && joined != here
            ? $"The membership in {folder.Membership} belongs to another board (serial number {Text.Clean(joined)}, this one has "
                + $"{Text.Clean(here)}): an image must not carry it. Delete the agent's folder {folder.Path} here, "
                + "then join with an invitation of this board's own."
            : boardName is not null && boardName != membership.Board
                ? $"This board joined as {membership.Board}: leave --board away, or join again under the other name."
                : null;
        if (wrong is null)
        {
            return CollectorLink.Joined(membership, folder.Membership);
        }

        membership.Dispose();
        throw new CommandException(wrong, 2);
    }
}
