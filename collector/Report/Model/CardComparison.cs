namespace Cardassay.Collector.Report.Model;

/// <summary>Two cards held against each other by the model that ranks them.</summary>
/// <param name="One">Title of the first card.</param>
/// <param name="Other">Title of the second.</param>
/// <param name="Sentence">What holds: which is ahead and by how much, that no order is known, or why the two cannot be compared.</param>
/// <param name="Figures">The performance under the profile first, then each metric; empty where the two cannot be compared.</param>
public sealed record CardComparison(string One, string Other, string Sentence, IReadOnlyList<ComparedFigure> Figures)
{
    /// <summary>True when the first is surely ahead under the profile.</summary>
    public bool FirstIsAhead => Figures is [{ Low.Raw: > 0 }, ..];
}

/// <summary>How far the first card is above the second one, %.</summary>
/// <param name="Name">What is compared.</param>
/// <param name="Percent">Its estimate.</param>
/// <param name="Low">Lower bound of the interval at the joint level; null where none is known.</param>
/// <param name="High">Upper bound.</param>
public sealed record ComparedFigure(string Name, Figure Percent, Figure? Low, Figure? High)
{
    /// <summary>"+15.6 % [+12.1 to +19.3]".</summary>
    public string Line => $"{Signed(Percent)} %{(Low is { } low && High is { } high ? $" [{Signed(low)} to {Signed(high)}]" : ", no interval known")}";

    private static string Signed(Figure figure) => figure.Raw > 0 && !figure.Text.StartsWith('-') ? "+" + figure.Text : figure.Text;
}
