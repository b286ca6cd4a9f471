namespace Cardassay.EmulatedBoard.Harness;

/// <summary>What lies behind an emulated card.</summary>
public abstract class CardMedium
{
    /// <summary>The emulator's name of the medium: a file, or the address of a server.</summary>
    public abstract string Source { get; }
}
