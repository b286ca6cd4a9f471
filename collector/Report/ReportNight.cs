using Cardassay.Collector.Analysis;

namespace Cardassay.Collector.Report;

/// <summary>
/// The nights a report covers, by the rule of the analysis: a night runs from noon to noon UTC and is named by the day it
/// begins. Figures, ranks and verdicts always rest on the whole history; only the overview speaks of these nights.
/// </summary>
/// <param name="First">First night.</param>
/// <param name="Last">Last night, not before <paramref name="First"/>.</param>
/// <param name="Planned">Runs the schedule held for these nights; null when no schedule is known.</param>
public sealed record ReportNight(DateOnly First, DateOnly Last, IReadOnlyList<PlannedRun>? Planned = null)
{
    /// <summary>True when the data hold later nights: what was delivered is then only known as of today, and is left out.</summary>
    public bool IsPast { get; init; }

    /// <summary>What is scheduled and has not ended when the report is made, a line each.</summary>
    public IReadOnlyList<string> Upcoming { get; init; } = [];

    /// <summary>The last night anything was measured in; the night before the snapshot when nothing was.</summary>
    public static ReportNight Latest(AnalysisResult analysis)
    {
        DateOnly night = analysis.Cards.SelectMany(c => c.Runs).Select(r => r.Night).DefaultIfEmpty(DateOnly.FromDateTime(analysis.AsOf.UtcDateTime.AddDays(-1))).Max();
        return new ReportNight(night, night);
    }

    /// <summary>All nights anything was measured in.</summary>
    public static ReportNight Everything(AnalysisResult analysis)
    {
        ReportNight latest = Latest(analysis);
        return latest with { First = analysis.Cards.SelectMany(c => c.Runs).Select(r => r.Night).DefaultIfEmpty(latest.Last).Min() };
    }
}

/// <summary>A run the schedule held.</summary>
/// <param name="Board">Board that was to run it.</param>
/// <param name="Card">Tag, or null for whatever card was in the slot.</param>
/// <param name="Plan">Name of the plan.</param>
/// <param name="Run">The run that came of it, or null when it never began.</param>
/// <param name="WhyNot">Why it never began, as a sentence; null when nobody knows.</param>
public sealed record PlannedRun(string Board, string? Card, string Plan, Trials.RunId? Run, string? WhyNot)
{
    /// <summary>Runs that ended before their time and were made again by this one.</summary>
    public IReadOnlyList<Trials.RunId> MadeAgain { get; init; } = [];
}
