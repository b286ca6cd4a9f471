using System.Text.Json.Serialization;

namespace Cardassay.Collector.Report.Model;

/// <summary>A claimed product and capacity: what a reader can buy.</summary>
/// <param name="Name">Maker, product and capacity as claimed.</param>
/// <param name="Specimens">"one specimen", "3 specimens", "2 of 3 bought count: T-04 is not as claimed".</param>
/// <param name="Rank">Rank among products under the profile, or null.</param>
/// <param name="RandomRead">One specimen: its figure; several: the median of their medians with the spread; empty when unmeasured.</param>
/// <param name="RandomWrite">The same for random write.</param>
/// <param name="Verdicts">Verdicts of the specimens, counted ("2 as claimed, 1 doubtful").</param>
/// <param name="Tags">The specimens.</param>
public sealed record ReportProduct(
    string Name, string Specimens, ReportRank? Rank, [property: JsonPropertyOrder(1)] string RandomRead, [property: JsonPropertyOrder(1)] string RandomWrite,
    [property: JsonPropertyOrder(1)] string Verdicts, [property: JsonPropertyOrder(1)] string Tags)
{
    /// <summary>Empty: nobody says why a product has no rank; null when it has one.</summary>
    [JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)]
    public string? Unranked => Rank is null ? "" : null;
}

/// <summary>Price against performance.</summary>
/// <param name="Currency">Currency of all points; cards priced in another one are named in the remark.</param>
/// <param name="Points">Cards with a price, cheapest first.</param>
/// <param name="Remark">What was left out and why; empty when nothing was.</param>
public sealed record PriceSection(string Currency, [property: JsonPropertyOrder(1)] IReadOnlyList<PricePoint> Points, string Remark);

/// <summary>One card with a price.</summary>
/// <param name="Card">Title of the card.</param>
/// <param name="Product">Claimed product.</param>
/// <param name="Price">Price.</param>
/// <param name="PerGigabyte">Price per decimal gigabyte of the label, or null.</param>
/// <param name="PriceDate">Day of the price, or "date unknown".</param>
/// <param name="Composite">Its performance under the profile.</param>
/// <param name="OnFront">True when no card is surely better, by the intervals, at the same or a lower price.</param>
/// <param name="BeatenBy">Titles of the cards that are; empty on the front.</param>
public sealed record PricePoint(
    string Card, string Product, Figure Price, Figure? PerGigabyte, string PriceDate, ReportComposite Composite, bool OnFront, string BeatenBy);

/// <summary>Performance under a use profile: 1 is the profile's reference, 2 is twice it.</summary>
/// <param name="Value">Level in the card + board model, boards taken out.</param>
/// <param name="Low">Lower bound of the 95 % interval of this card alone; whether two cards differ does not follow from it.</param>
/// <param name="High">Upper bound.</param>
/// <param name="Runs">Runs behind it.</param>
/// <param name="IsInterval">False when nothing is known of how far its figures scatter: then the bounds are the value.</param>
/// <param name="Bounds">What the bounds are, in words.</param>
public sealed record ReportComposite([property: JsonPropertyName("median")] Figure Value, Figure Low, Figure High, int Runs, bool IsInterval, string Bounds)
{
    /// <summary>"1.42 [1.38–1.47], 12 runs".</summary>
    internal string Line => IsInterval ? $"{Value.Text} [{Low.Text}–{High.Text}], {Wording.Count(Runs, "run", "runs")}" : $"{Value.Text} (no interval), {Wording.Count(Runs, "run", "runs")}";
}

/// <summary>A plain table with a heading and what to read in it.</summary>
/// <param name="Id">Anchor, kebab-case.</param>
/// <param name="Title">Heading.</param>
/// <param name="Intro">What the table shows, as sentences.</param>
/// <param name="Columns">Column headings.</param>
/// <param name="Rows">Cells as text, one list per row.</param>
public sealed record ReportTable(
    string Id, string Title, string Intro, [property: JsonIgnore] IReadOnlyList<ReportColumn> Columns, [property: JsonPropertyOrder(1)] IReadOnlyList<IReadOnlyList<string>> Rows)
{
    /// <summary>Headings of <see cref="Columns"/>.</summary>
    [JsonPropertyName("columns")]
    public IEnumerable<string> Headings => Columns.Select(c => c.Name);

    /// <summary>True for what only a statistician reads: these tables stand together at the end.</summary>
    internal bool IsStatistics { get; init; }

    /// <summary>Charts of what the table says; renderings without charts lose nothing.</summary>
    internal IReadOnlyList<ReportPicture> Pictures { get; init; } = [];
}

/// <summary>A column.</summary>
/// <param name="Name">Heading, with the unit.</param>
/// <param name="IsNumber">True when cells are right-aligned.</param>
public sealed record ReportColumn(string Name, bool IsNumber);
