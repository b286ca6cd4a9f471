using Cardassay.Trials;

namespace Cardassay.Judging;

/// <summary>
/// How much of a card had been written before a trial, as measured by the agent and not as somebody typed it. A card with much free
/// space of its own writes faster than one that is full and has been written over (DOMAIN 5; the limits are common practice, no source).
/// </summary>
public enum CardFill
{
    /// <summary>The agent did not say: an old record, or a folder, below which a file system decides.</summary>
    NotMeasured = 0,

    /// <summary>Below a tenth of the card.</summary>
    HardlyWritten = 1,

    /// <summary>A tenth or more, never the whole card.</summary>
    PartlyWritten = 2,

    /// <summary>The whole card once, and less than its capacity since.</summary>
    WrittenWhole = 3,

    /// <summary>The whole card, and its capacity or more since.</summary>
    WrittenOver = 4,
}

/// <summary>Tells the fill and its words.</summary>
public static class CardFills
{
    private const double HardlyPart = 0.1;

    /// <summary>The fill before a trial.</summary>
    /// <param name="trial">The trial.</param>
    /// <param name="cardBytes">Size of the card; 0 or less when it is not known.</param>
    public static CardFill Of(TrialMeasured trial, long cardBytes) => (trial.FilledBytes, trial.SinceWholeBytes) switch
    {
        _ when cardBytes <= 0 => CardFill.NotMeasured,
        (_, { } since) => since < cardBytes ? CardFill.WrittenWhole : CardFill.WrittenOver,
        ({ } filled, null) => filled < cardBytes * HardlyPart ? CardFill.HardlyWritten : CardFill.PartlyWritten,
        _ => CardFill.NotMeasured,
    };

    /// <summary>For people; "" when not measured.</summary>
    public static string TextOf(CardFill fill) => fill switch
    {
        CardFill.HardlyWritten => "hardly written before",
        CardFill.PartlyWritten => "partly written before",
        CardFill.WrittenWhole => "written whole before",
        CardFill.WrittenOver => "written whole and over before",
        _ => "",
    };
}
