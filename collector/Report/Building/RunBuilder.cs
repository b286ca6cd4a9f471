using System.Globalization;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Report.Model;
using Cardassay.Trials;

namespace Cardassay.Collector.Report.Building;

/// <summary>One run and what surrounded it.</summary>
internal static class RunBuilder
{
    /// <summary>When a run began, UTC, to the minute.</summary>
    public static string When(RunRecord run) => run.OpenedAt.UtcDateTime.ToString("yyyy-MM-dd HH:mm", CultureInfo.InvariantCulture);

    /// <summary>The run as it is listed; null where nothing is known of it.</summary>
    /// <param name="source">The report's sources.</param>
    /// <param name="use">What became of it.</param>
    /// <param name="trials">The trials of its card; null for a card in short, of whose runs the conditions are not told.</param>
    public static ReportRun? Build(ReportSource source, RunUse use, CardTrials? trials)
    {
        if (source.Run(use.Key) is not { } run)
        {
            return null;
        }

        return trials is null ? Brief(run, use) : WithConditions(Brief(run, use), run, trials.Of(run));
    }

    private static ReportRun Brief(RunRecord run, RunUse use) => new()
    {
        When = When(run),
        Board = run.Board,
        Plan = $"{run.Opened.PlanName} {run.Opened.PlanVersion}",
        Target = Target(run.Opened),
        Outcome = Outcome(run) + (use.Rule is { } rule ? "; " + Analysis.Figures.SetAsideRules.SentenceOf(rule) : ""),
        Trials = run.Proofs.Count > 0 && run.TrialCount == 0
            ? "capacity proof" : $"{Wording.Number(run.ValidTrials)} of {Wording.Number(run.TrialCount)}",
        Bus = "",
        Governor = "",
        Temperature = "",
        Flags = "",
        WrittenGigabytes = Figure.Of((run.Closed?.BytesWritten ?? 0) / 1e9, 2),
    };

    private static ReportRun WithConditions(ReportRun brief, RunRecord run, IReadOnlyList<TrialRecord> trials)
    {
        Conditions[] conditions = [.. trials.SelectMany(t => t.Trial.During.Prepend(t.Trial.Before).Append(t.Trial.After)), .. run.Proofs.SelectMany(p => new[] { p.Proof.Before, p.Proof.After })];
        return brief with
        {
            Bus = Bus(conditions),
            Governor = Distinct(conditions.Select(c => c.Governor), "not reported"),
            Temperature = Temperature(conditions),
            Flags = Flags(run, trials, conditions),
        };
    }

    /// <summary>How a run ended, with the reason.</summary>
    public static string Outcome(RunRecord run) => run.Closed switch
    {
        null => "end not reported",
        { Outcome: RunOutcome.Completed } => "completed",
        { } closed => closed.Outcome.ToString().ToLowerInvariant() + (string.IsNullOrEmpty(closed.Reason) ? "" : ": " + closed.Reason),
    };

    private static string Target(RunOpened opened)
    {
        string target = opened.Target switch
        {
            TargetKind.Device => "device",
            TargetKind.Folder => "folder on " + (opened.FileSystem ?? "an unknown file system"),
            _ => "unknown target",
        };
        string attachment = opened.Attachment switch { Attachment.Slot => ", slot", Attachment.Reader => ", reader", Attachment.Fixed => ", fixed", _ => "" };
        return target + attachment + (opened.JournalOnCard ? "; journal on the card" : "");
    }

    private static string Bus(Conditions[] conditions)
    {
        string mode = Distinct(conditions.Select(c => c.BusMode), "mode not reported");
        long[] clocks = [.. conditions.Select(c => c.ActualClockHz ?? c.ClockHz).OfType<long>().Distinct().Order()];
        return clocks.Length == 0 ? mode : mode + ", " + string.Join(" and ", clocks.Select(hz => Figure.Of(hz / 1e6, 1).Text + " MHz"));
    }

    /// <summary>Degrees Celsius of the hottest sensor, of each sample that has one. Boards name their sensors differently; the hottest is what matters to the card.</summary>
    internal static double[] Hottest(IEnumerable<Conditions> conditions) =>
        [.. conditions.Where(c => c.Temperatures.Count > 0).Select(c => c.Temperatures.Max(t => t.MilliCelsius) / 1000.0)];

    private static string Temperature(Conditions[] conditions)
    {
        double[] hottest = Hottest(conditions);
        return hottest.Length == 0 ? "not reported" : $"{Figure.Of(hottest.Min(), 1).Text}–{Figure.Of(hottest.Max(), 1).Text}";
    }

    private static string Flags(RunRecord run, IReadOnlyList<TrialRecord> trials, Conditions[] conditions)
    {
        List<string> seen = [];
        List<string> silent = [];
        Flag("under-voltage", conditions.Any(c => c.UnderVoltage is not null), conditions.Any(c => c.UnderVoltage == true));
        Flag("throttling", conditions.Any(c => c.Throttled is not null), conditions.Any(c => c.Throttled == true));
        long errors = trials.Sum(t => Math.Max(0, (t.Trial.After.LinkErrors ?? 0) - (t.Trial.Before.LinkErrors ?? t.Trial.After.LinkErrors ?? 0)));
        errors += run.Proofs.Sum(p => p.Proof.LinkErrors ?? 0);
        Flag(Wording.Count(errors, "link error", "link errors"), conditions.Any(c => c.LinkErrors is not null), errors > 0, "link errors");
        string what = seen.Count > 0 ? string.Join(", ", seen) : silent.Count == 3 ? "" : "none seen";
        string unknown = silent.Count > 0 ? "not reported: " + string.Join(", ", silent) : "";
        string beside = conditions.Any(c => c.BesideDisk is not null) ? "beside a run in " + Distinct(conditions.Select(c => c.BesideDisk), "") : "";
        return string.Join("; ", new[] { what, unknown, beside }.Where(t => t.Length > 0));

        void Flag(string text, bool reported, bool raised, string? name = null)
        {
            if (!reported)
            {
                silent.Add(name ?? text);
            }
            else if (raised)
            {
                seen.Add(text);
            }
        }
    }

    private static string Distinct(IEnumerable<string?> values, string none)
    {
        string[] all = [.. values.OfType<string>().Distinct()];
        return all.Length == 0 ? none : string.Join(" and ", all);
    }
}
