namespace Cardassay.Collector.Report.Model;

/// <summary>
/// Everything a report says, in the order it is said. Records only, rounded and worded once: the five renderings arrange it
/// and add no figure of their own. The same data make an equal model, and an equal model the same bytes.
/// </summary>
public sealed record ReportModel
{
    /// <summary>Collector's wall time of the data the report was made from, UTC ("2031-03-14 06:30 UTC"). Renderings read no clock.</summary>
    public required string GeneratedFor { get; init; }

    /// <summary>The span covered ("night of 13 to 14 March 2031").</summary>
    public required string Span { get; init; }

    /// <summary>True when any record or claim is made up; every rendering then says so at its top.</summary>
    public bool Invented { get; init; }

    /// <summary>The use profile cards are weighed by ("system-disk").</summary>
    public required string Profile { get; init; }

    /// <summary>How the figures came about, as sentences.</summary>
    public IReadOnlyList<string> Method { get; init; } = [];

    /// <summary>What the figures do not say, as sentences.</summary>
    public IReadOnlyList<string> Cautions { get; init; } = [];

    /// <summary>What was planned, done, invalid and missing.</summary>
    public required NightSummary Night { get; init; }

    /// <summary>What a person has to decide or do.</summary>
    public IReadOnlyList<NeedsPerson> NeedsPerson { get; init; } = [];

    /// <summary>Verdicts that differ from those before this span.</summary>
    public IReadOnlyList<VerdictChange> VerdictChanges { get; init; } = [];

    /// <summary>Whether anything was lost on the way.</summary>
    public required ReportIntegrity Integrity { get; init; }

    /// <summary>All cards: ranked ones by rank interval, then the unranked ones by tag.</summary>
    public IReadOnlyList<ReportCard> Cards { get; init; } = [];

    /// <summary>Ranks per claimed product and capacity.</summary>
    public IReadOnlyList<ReportProduct> Products { get; init; } = [];

    /// <summary>Price against performance, or null where no card has a price.</summary>
    public PriceSection? Price { get; init; }

    /// <summary>Tables that follow the cards: board against card, drift, sensitivity.</summary>
    public IReadOnlyList<ReportTable> Comparisons { get; init; } = [];
}
