namespace Cardassay.Collector.Report.Model;

/// <summary>
/// One question of the first page. The page is what somebody asks at breakfast: which card to take and how sure that is, what goes back, what to do now, what
/// was not done, what changed, what tonight brings. Sentences only, made from the report by rule; every figure in them stands in the report as well.
/// </summary>
/// <param name="Key">Stable name for JSON and anchors ("take", "send-back").</param>
/// <param name="Label">What the page calls it; at most <see cref="LabelChars"/> characters.</param>
/// <param name="Lines">The answer, the most telling sentence first; at least one.</param>
public sealed record FirstPagePart(string Key, string Label, IReadOnlyList<string> Lines)
{
    /// <summary>Longest label.</summary>
    public const int LabelChars = 9;

    /// <summary>Lines a rendering of limited length keeps before it names the others by number.</summary>
    internal int Keep { get; init; }
}
