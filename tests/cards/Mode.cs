namespace Cardassay.Cards.Tests;

/// <summary>How a card is proven.</summary>
public enum Mode
{
    /// <summary>Probes.</summary>
    Sparse,

    /// <summary>Probes, and as much more as the time allows.</summary>
    Timed,

    /// <summary>Every block.</summary>
    Full,
}
