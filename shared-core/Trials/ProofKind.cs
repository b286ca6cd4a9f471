namespace Cardassay.Trials;

/// <summary>How a capacity proof went about it. The numbers are part of the wire format: never renumber.</summary>
public enum ProofKind
{
    /// <summary>A kind this version does not know.</summary>
    Unknown = 0,

    /// <summary>Probes on a lattice, at edges and at random places of the whole device.</summary>
    Sparse = 1,

    /// <summary>Every block of the device written, then every block read.</summary>
    Full = 2,

    /// <summary>The free space of a mounted file system only, through a scratch file.</summary>
    FreeSpace = 3,
}
