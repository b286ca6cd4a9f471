namespace Cardassay.Cards.Tests;

/// <summary>Sizes of the served cards: small ones with everything else scaled to them, or with CARDASSAY_FULL=1 those of a real proof.</summary>
/// <param name="Bytes">What a card claims.</param>
/// <param name="EvictionBytes">What a proof writes against a cache.</param>
/// <param name="Budget">Time of a timed proof.</param>
internal sealed record CardSize(long Bytes, long EvictionBytes, TimeSpan Budget)
{
    public static bool IsFull { get; } = Environment.GetEnvironmentVariable("CARDASSAY_FULL") == "1";

    public static CardSize Now { get; } = IsFull
        ? new CardSize(1L << 30, 64L << 20, TimeSpan.FromSeconds(10))
        : new CardSize(96L << 20, 6L << 20, TimeSpan.FromSeconds(1.5));

    /// <summary>The largest cache of a card.</summary>
    public const long LargeCacheBytes = 2L << 30;

    /// <summary>A part of the claim, in whole blocks.</summary>
    public long Part(double part) => (long)(Bytes * part) / 4096 * 4096;
}
