using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Notices.Morning;

/// <summary>The report on one night, made once and kept until every way has taken it, so that all of them carry the same bytes.</summary>
internal sealed record MorningReport
{
    /// <summary>The night, by the day it began, yyyy-MM-dd.</summary>
    public required string Night { get; init; }

    /// <summary>The night in words.</summary>
    public required string Span { get; init; }

    /// <summary>Time of the data, UTC, as the report prints it.</summary>
    public required string GeneratedFor { get; init; }

    /// <summary>Profile the cards are weighed by.</summary>
    public required string Profile { get; init; }

    /// <summary>What of it is made up, as a sentence; "" when nothing is.</summary>
    public required string Invented { get; init; }

    /// <summary>The first page.</summary>
    public required IReadOnlyList<FirstPagePart> FirstPage { get; init; }

    /// <summary>The first page as text.</summary>
    public required string FirstText { get; init; }

    /// <summary>Verdicts that the night changed.</summary>
    public required int VerdictsNew { get; init; }

    /// <summary>Things that need a person.</summary>
    public required int NeedsPerson { get; init; }

    /// <summary>The whole report as one HTML file.</summary>
    public required string Html { get; init; }

    /// <summary>The whole report as Markdown.</summary>
    public required string Markdown { get; init; }

    /// <summary>The table for a post, Markdown, without prices.</summary>
    public required string Table { get; init; }

    /// <summary>What a later report is compared with; null for a night that later ones follow.</summary>
    public MorningSigns? Signs { get; init; }

    /// <summary>What the night brought in one line, for an index and a subject.</summary>
    internal string Line =>
        (VerdictsNew == 0 ? "the night changed no verdict" : "the night changed " + Wording.Count(VerdictsNew, "verdict", "verdicts"))
        + ", " + (NeedsPerson == 0 ? "nothing needs you" : Wording.Count(NeedsPerson, "thing needs", "things need") + " you");
}
