using Cardassay.Identity;
using Cardassay.Registers;
using Cardassay.Trials;

namespace Cardassay.Agent.Sysfs;

/// <summary>What a disk shows of itself at one moment.</summary>
public sealed record CardSighting
{
    /// <summary>What it is recognised by.</summary>
    public required CardIdentity Identity { get; init; }

    /// <summary>Kernel name.</summary>
    public required string DiskName { get; init; }

    /// <summary>`/sys/block/NAME/size` x 512; 0 when unknown.</summary>
    public long DiskBytes { get; init; }

    /// <summary>`/sys/block/NAME/diskseq`, or null when the kernel does not offer it.</summary>
    public long? DiskSequence { get; init; }

    /// <summary>How it is attached.</summary>
    public Attachment Attachment { get; init; }

    /// <summary>Text of each register file.</summary>
    public IReadOnlyDictionary<string, Reading<string>> Files { get; init; } = new Dictionary<string, Reading<string>>();

    /// <summary>Why the registers give no identity, as a sentence; null when they do.</summary>
    public string? Remark { get; init; }

    /// <summary>Looks at a disk; null when the kernel knows no such disk. Reads sysfs only, never the card.</summary>
    public static CardSighting? Take(SysfsTree tree, string diskName)
    {
        var devices = new BlockDevices(tree);
        if (devices.FolderOf(diskName) is null)
        {
            return null;
        }

        IReadOnlyDictionary<string, Reading<string>> files = CardFiles.Read(tree, diskName);
        long bytes = devices.SizeBytes(diskName).Value;
        Attachment attachment = AttachmentReader.Read(tree, diskName);
        CardRegisters registers = CardRegisters.From(files, bytes, attachment);
        return new CardSighting
        {
            // The one place that decides what a disk is recognised by.
            Identity = registers.Identity ?? CardIdentity.ForDevice(diskName, bytes, DeviceSerial.Read(tree, diskName)),
            DiskName = diskName,
            DiskBytes = bytes,
            DiskSequence = new TargetResolver(tree).DiskSequenceOf(diskName),
            Attachment = attachment,
            Files = files,
            Remark = WhyNoIdentity(registers),
        };
    }

    /// <summary>The observation of this sighting.</summary>
    public CardIdentified ToObservation(RunId runId) => new()
    {
        RunId = runId,
        Identity = Identity.Text,
        IdentityFromRegisters = Identity.FromRegisters,
        DiskName = DiskName,
        DiskBytes = DiskBytes,
        Attachment = Attachment,
        Files = Files,
    };

    private static string? WhyNoIdentity(CardRegisters registers)
    {
        if (registers.Identity is not null)
        {
            return null;
        }

        if ((registers.Cid.Reason ?? registers.MmcCid.Reason) is { } reason)
        {
            return $"The card's identification register could not be read: {reason}.";
        }

        return registers.Attachment switch
        {
            Attachment.Reader => "The registers are hidden by the reader; put the card into a slot of a board to read them.",
            Attachment.Fixed => "This device shows no card registers.",
            _ => "The kernel shows no identification register for this card.",
        };
    }
}
