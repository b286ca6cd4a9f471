namespace Cardassay.Collector.Report.Model;

/// <summary>A chart that belongs to a table. The table holds the figures; the picture adds none that is not worded in <see cref="Text"/> or there.</summary>
/// <param name="Title">Caption.</param>
/// <param name="Text">What it shows, as sentences, for those who do not see it.</param>
public abstract record ReportPicture(string Title, string Text);

/// <summary>Ranks under drawn weights beside the ranks the figures allow.</summary>
/// <param name="Title">Caption.</param>
/// <param name="Text">Text equivalent.</param>
/// <param name="Of">Cards ranked.</param>
/// <param name="Rows">Cards in the order of the ranking.</param>
public sealed record WeightsPicture(string Title, string Text, int Of, IReadOnlyList<WeightsRow> Rows) : ReportPicture(Title, Text);

/// <summary>One card of a <see cref="WeightsPicture"/>; ranks from 1.</summary>
/// <param name="Card">Title of the card.</param>
/// <param name="Best">Best rank the figures allow.</param>
/// <param name="Worst">Worst rank they allow.</param>
/// <param name="DrawnBest">Best rank of the point value under drawn weights.</param>
/// <param name="DrawnWorst">Worst rank of it; 0 likewise.</param>
public sealed record WeightsRow(string Card, int Best, int Worst, int DrawnBest, int DrawnWorst);

/// <summary>The same cards on several boards.</summary>
/// <param name="Title">Caption.</param>
/// <param name="Text">Text equivalent.</param>
/// <param name="Boards">Names of the boards, at most six.</param>
/// <param name="Rows">One row per card.</param>
public sealed record BoardsPicture(string Title, string Text, IReadOnlyList<string> Boards, IReadOnlyList<BoardsRow> Rows) : ReportPicture(Title, Text);

/// <summary>One card of a <see cref="BoardsPicture"/>.</summary>
/// <param name="Card">Title of the card.</param>
/// <param name="Percent">Median on each board against the middle of the card's medians, %; null where it was not measured.</param>
public sealed record BoardsRow(string Card, IReadOnlyList<double?> Percent);

/// <summary>Medians of nights, one line per series.</summary>
/// <param name="Title">Caption.</param>
/// <param name="Text">Text equivalent.</param>
/// <param name="Lines">At most six series.</param>
public sealed record DriftPicture(string Title, string Text, IReadOnlyList<DriftLine> Lines) : ReportPicture(Title, Text)
{
    /// <summary>Lines that can still be told apart.</summary>
    public const int MostLines = 6;

    /// <summary>Of what the points are percentages.</summary>
    public string Unit { get; init; } = "% of the middle night";
}

/// <summary>Specimens of one product, oldest first: one metric of each beside the others.</summary>
/// <param name="Title">Caption.</param>
/// <param name="Text">Text equivalent.</param>
/// <param name="Unit">Unit of the metric.</param>
/// <param name="Rows">The specimens.</param>
public sealed record SpecimensPicture(string Title, string Text, string Unit, IReadOnlyList<SpecimensRow> Rows) : ReportPicture(Title, Text);

/// <summary>One specimen of a <see cref="SpecimensPicture"/>.</summary>
/// <param name="Name">Its date and tag.</param>
/// <param name="Metric">Its figure with bounds.</param>
public sealed record SpecimensRow(string Name, ReportMetric Metric);

/// <summary>One series of a <see cref="DriftPicture"/>.</summary>
/// <param name="Name">Card, metric and board.</param>
/// <param name="Points">Night by night, each as % of the series' middle night.</param>
public sealed record DriftLine(string Name, IReadOnlyList<DriftPoint> Points);

/// <summary>One night.</summary>
/// <param name="Night">Night, by the day it begins.</param>
/// <param name="Percent">Median of the night, % of the middle night.</param>
public readonly record struct DriftPoint(DateOnly Night, double Percent);

/// <summary>Points over two axes.</summary>
/// <param name="Title">Caption.</param>
/// <param name="Text">Text equivalent.</param>
/// <param name="Horizontal">What the horizontal axis shows, with its unit.</param>
/// <param name="Vertical">Unit of the vertical axis.</param>
/// <param name="Series">The series, told apart by shape.</param>
public sealed record PointsPicture(string Title, string Text, string Horizontal, string Vertical, IReadOnlyList<PointsSeries> Series) : ReportPicture(Title, Text)
{
    /// <summary>True when both axes begin at 0.</summary>
    public bool FromZero { get; init; }
}

/// <summary>One series of a <see cref="PointsPicture"/>.</summary>
/// <param name="Name">What the legend calls it.</param>
/// <param name="Points">The points.</param>
public sealed record PointsSeries(string Name, IReadOnlyList<(double X, double Y)> Points);
