using OxyPlot;

namespace Cardassay.Collector.Report.Charts;

/// <summary>Marks by which up to six series are told apart, without colour: shape and filling.</summary>
/// <param name="Type">Shape in the plot.</param>
/// <param name="IsFilled">Filled, or open.</param>
/// <param name="Path">The shape in a legend, 12 by 12, its element left open.</param>
internal sealed record SeriesMark(MarkerType Type, bool IsFilled, string Path)
{
    private static readonly SeriesMark[] All =
    [
        new(MarkerType.Circle, true, "<circle cx=6 cy=6 r=3.2"),
        new(MarkerType.Square, false, "<path d=\"M2.8 2.8h6.4v6.4H2.8z\""),
        new(MarkerType.Triangle, true, "<path d=\"M6 2l4 7.2H2z\""),
        new(MarkerType.Diamond, false, "<path d=\"M6 1.4L10.6 6 6 10.6 1.4 6z\""),
        new(MarkerType.Square, true, "<path d=\"M2.8 2.8h6.4v6.4H2.8z\""),
        new(MarkerType.Circle, false, "<circle cx=6 cy=6 r=3.2"),
    ];

    /// <summary>Its line.</summary>
    public OxyColor Stroke => IsFilled ? Theme.Data : Theme.Second;

    /// <summary>Its inside.</summary>
    public OxyColor Fill => IsFilled ? Theme.Data : Theme.Paper;

    /// <summary>The whole element in a legend.</summary>
    public string Sample => $"{Path} class=\"f-{Theme.Name(Fill)} s-{Theme.Name(Stroke)}\"/>";

    /// <summary>The mark of a series, by its place.</summary>
    public static SeriesMark Of(int series) => All[series % All.Length];
}
