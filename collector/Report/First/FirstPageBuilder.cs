using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Report.First;

/// <summary>
/// Makes the first page from a finished report: sentences by rule, each from figures that stand in the report. Where the report does not
/// know, the page says so; it never says more than the intervals, verdicts and records behind it. Pure.
/// </summary>
internal static class FirstPageBuilder
{
    /// <summary>The page of a report.</summary>
    /// <param name="model">The report, whole but for its first page.</param>
    public static IReadOnlyList<FirstPagePart> Build(ReportModel model) =>
    [
        .. new[]
        {
            Part("take", "TAKE", 5, TakePart.Lines(model).Concat(AvoidPart.TooSlow(model.Cards, model.Profile))),
            Part("send-back", "SEND BACK", 4, SendBackPart.Lines(model)),
            Part("do-now", "DO NOW", 4, ToDoPart.Lines(model)),
            Part("night", "NIGHT", 3, NightPart.Lines(model)),
            Part("compared", "COMPARED", 1, ComparedPart.Lines(model)),
            Part("changed", "CHANGED", 3, ChangedPart.Lines(model)),
            Part("boards", "BOARDS", 2, BoardsPart.Lines(model)),
            Part("unranked", "UNRANKED", 2, UnrankedPart.Lines(model)),
            Part("products", "PRODUCTS", 1, ProductsPart.Lines(model)),
            Part("tonight", "TONIGHT", 2, TonightPart.Lines(model)),
        }.OfType<FirstPagePart>(),
    ];

    private static FirstPagePart? Part(string key, string label, int keep, IEnumerable<string> lines)
    {
        string[] said = [.. lines.Where(l => l.Length > 0)];
        return said.Length == 0 ? null : new FirstPagePart(key, label, said) { Keep = keep };
    }
}
