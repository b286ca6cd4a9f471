namespace Cardassay.Demo;

/// <summary>What was planted in a card.</summary>
internal enum Fault
{
    /// <summary>Nothing.</summary>
    None,

    /// <summary>The label claims twice what the registers say, and the registers four times what the flash keeps.</summary>
    Overstated,

    /// <summary>Another maker's card under this label.</summary>
    Relabelled,

    /// <summary>Shares its identity with another card.</summary>
    Cloned,

    /// <summary>Used before; slower from run to run, with stalls.</summary>
    Worn,
}
