namespace Cardassay.Collector.Report.Model;

/// <summary>A claimed product and capacity: what a reader can buy.</summary>
/// <param name="Name">Maker, product and capacity as claimed.</param>
/// <param name="Specimens">"one specimen", "3 specimens".</param>
/// <param name="Rank">Rank among products in random read, or null.</param>
/// <param name="RandomRead">Median of the specimens' medians with their spread, as text; empty when unmeasured.</param>
/// <param name="RandomWrite">The same for random write.</param>
/// <param name="Verdicts">Verdicts of the specimens, counted ("2 as claimed, 1 doubtful").</param>
/// <param name="Tags">The specimens.</param>
public sealed record ReportProduct(
    string Name, string Specimens, ReportRank? Rank, string RandomRead, string RandomWrite, string Verdicts, string Tags);

/// <summary>Price against performance.</summary>
/// <param name="Currency">Currency of all points; cards priced in another one are listed in the remark.</param>
/// <param name="Points">Cards with a price.</param>
/// <param name="Remark">What was left out and why; empty when nothing was.</param>
public sealed record PriceSection(string Currency, IReadOnlyList<PricePoint> Points, string Remark);

/// <summary>One card with a price.</summary>
/// <param name="Card">Title of the card.</param>
/// <param name="Product">Claimed product.</param>
/// <param name="Price">Price.</param>
/// <param name="PriceDate">Day of the price, or "date unknown".</param>
/// <param name="RandomRead">Its random read.</param>
/// <param name="Unit">Unit of that.</param>
/// <param name="OnFront">True when no card is surely faster (by the intervals) at the same or a lower price.</param>
public sealed record PricePoint(
    string Card, string Product, Figure Price, string PriceDate, ReportMetric RandomRead, string Unit, bool OnFront);

/// <summary>A plain table with a heading and what to read in it.</summary>
/// <param name="Id">Anchor, kebab-case.</param>
/// <param name="Title">Heading.</param>
/// <param name="Intro">What the table shows, as sentences.</param>
/// <param name="Columns">Column headings.</param>
/// <param name="Rows">Cells as text, one list per row.</param>
public sealed record ReportTable(
    string Id, string Title, string Intro, IReadOnlyList<ReportColumn> Columns, IReadOnlyList<IReadOnlyList<string>> Rows);

/// <summary>A column.</summary>
/// <param name="Name">Heading, with the unit.</param>
/// <param name="IsNumber">True when cells are right-aligned.</param>
public sealed record ReportColumn(string Name, bool IsNumber);
