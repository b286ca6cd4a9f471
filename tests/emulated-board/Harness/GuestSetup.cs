namespace Cardassay.EmulatedBoard.Harness;

/// <summary>How a board is equipped.</summary>
public sealed record GuestSetup
{
    /// <summary>Host name, under which the board reports.</summary>
    public string Name { get; init; } = "harbour-1";

    /// <summary>A slot per entry, from `mmcblk0` on; null is an empty slot.</summary>
    public IReadOnlyList<CardMedium?> Slots { get; init; } = [];

    /// <summary>The disk of a distribution that the board boots, `/dev/vda` then; null for the guest's own small system, which has one process.</summary>
    public GuestDisk? System { get; init; }

    /// <summary>A disk that is no card, or null.</summary>
    public GuestDisk? Disk { get; init; }

    /// <summary>Whether there is a network in which the host's 127.0.0.1 is 10.0.2.2.</summary>
    public bool Network { get; init; }

    /// <summary>Memory, MiB.</summary>
    public int MemoryMiB { get; init; } = 512;
}
