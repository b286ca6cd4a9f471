namespace Cardassay.Simulation.Tests.CapacityProof;

/// <summary>What is wrong with a simulated card.</summary>
public enum Fault
{
    /// <summary>Addresses modulo the true size.</summary>
    Wrap,

    /// <summary>The same behind a controller's cache smaller than the eviction.</summary>
    WrapBehindCache,

    /// <summary>Nothing beyond the true size; reads give a constant or what was there before.</summary>
    Drop,

    /// <summary>The same behind a controller's cache smaller than the eviction.</summary>
    DropBehindCache,

    /// <summary>As drop, but the last allocation unit is real.</summary>
    LastUnitReal,

    /// <summary>The top folds into a window.</summary>
    Fold,

    /// <summary>Blocks between the multiples of the lattice are lost.</summary>
    InStepWithLattice,

    /// <summary>Storage is given out on the first write, until it is used up.</summary>
    AllocatedOnWrite,

    /// <summary>Single blocks are lost all over.</summary>
    Scattered,

    /// <summary>Single blocks come back with changed bits.</summary>
    Decay,

    /// <summary>Single blocks cannot be read.</summary>
    Unreadable,

    /// <summary>A stretch cannot be read.</summary>
    UnreadableStretch,

    /// <summary>Every odd mebibyte keeps nothing.</summary>
    OddMebibytes,

    /// <summary>Beyond the true size an earlier pass of a proof stays, whatever is written.</summary>
    StalePass,

    /// <summary>1 to 30 % of the blocks are lost, all over.</summary>
    ScatteredWidely,

    /// <summary>Reading and writing disagree about the halves.</summary>
    SwappedHalves,
}
