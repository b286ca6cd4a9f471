using Cardassay.Identity;

namespace Cardassay.Collector.Report.Html;

/// <summary>
/// A punch mark per verdict. Outline and filling differ, so that it reads without colour and in print; the words stand beside
/// it always.
/// </summary>
internal static class VerdictMark
{
    /// <summary>The marks, defined once per page.</summary>
    public const string Definitions =
        "<svg width=0 height=0 class=defs aria-hidden=true><defs>"
        + "<symbol id=v1 viewBox=\"0 0 20 20\"><path class=solid d=\"M6 1h8l5 5v8l-5 5H6l-5-5V6z\"/>"
        + "<path class=cut d=\"M5.5 10.5l3 3 6-7\"/></symbol>"
        + "<symbol id=v2 viewBox=\"0 0 20 20\"><path class=line d=\"M6 1h8l5 5v8l-5 5H6l-5-5V6z\"/>"
        + "<path class=line d=\"M5.5 10.5l3 3 6-7\"/></symbol>"
        + "<symbol id=v3 viewBox=\"0 0 20 20\"><path class=line d=\"M10 1l9 9-9 9-9-9z\"/>"
        + "<path class=line d=\"M10 5.5v5.5M10 13.2v1.4\"/></symbol>"
        + "<symbol id=v4 viewBox=\"0 0 20 20\"><path class=solid d=\"M1 3h18v14H1z\"/><path class=cut d=\"M4 6l12 8M16 6L4 14\"/></symbol>"
        + "<symbol id=v0 viewBox=\"0 0 20 20\"><circle class=dash cx=10 cy=10 r=8.5 /></symbol>"
        + "</defs></svg>";

    /// <summary>The mark and the words.</summary>
    public static void Write(Page page, VerdictKind kind, string words) =>
        page.Markup($"<span class=\"verdict k{(int)kind}\"><svg aria-hidden=true><use href=\"#v{(int)kind}\"/></svg>").Text(words)
            .Markup("</span>");
}
