using System.Globalization;
using System.Text;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>
/// The result of one run as a table for a terminal of 80 columns: random read first, then random and synchronous write, sequential
/// last. A single run gives a range, never an interval, and no pass mark.
/// </summary>
internal static class ResultTable
{
    internal static string Render(RunResult result)
    {
        var text = new StringBuilder();
        text.AppendLine(CultureInfo.InvariantCulture, $"{"trial",-28} {"median",12} {"range of runs",19} {"n",3} {"p99",9} {"",3}");
        var groups = result.Trials
            .Where(t => t is { Role: TrialRole.Measured, Pass: not 1 })
            .GroupBy(t => (t.Kind, t.BlockBytes, t.QueueDepth, t.Standard, t.RangeBytes, t.Recovery))
            .OrderBy(g => TrialKinds.PlaceOf(g.Key.Kind)).ThenBy(g => g.Key.BlockBytes).ThenBy(g => g.Key.QueueDepth)
            .ThenBy(g => g.Key.Standard)
            .ThenByDescending(g => g.Key.RangeBytes).ToList();
        foreach (var group in groups)
        {
            // A card may be quick in a part of itself and slow over all of it: ranges stand side by side, and
            // say so where there are several.
            bool isOne =
                groups.Count(
                    g =>
                        (g.Key.Kind, g.Key.BlockBytes, g.Key.QueueDepth, g.Key.Standard) == (group.Key.Kind, group.Key.BlockBytes,
                            group.Key.QueueDepth, group.Key.Standard)) == 1;
            string where = isOne ? "" : group.Key.Recovery ? ", rested" : $" of {Range(group.Key.RangeBytes)}";
            text.AppendLine(Row(group.Key.Kind, group.Key.BlockBytes, group.Key.QueueDepth, where, [.. group]));
        }

        int warmUps = result.Trials.Count(t => t.Role == TrialRole.WarmUp);
        if (warmUps > 0)
        {
            text.AppendLine(CultureInfo.InvariantCulture, $"{warmUps} warm-up trials are kept and not counted.");
        }

        FirstReads(text, result.Trials);
        Closing(text, result.Trials);
        if (result.Trials.Any(t => t.Role == TrialRole.Measured && !t.ContentKnown && TrialKinds.NeedsKnownContent(t.Kind)))
        {
            text.AppendLine("* read what was not written in this run: content unknown, not ranked.");
        }

        if (result.Trials.Any(t => t is { Kind: TrialKind.ClassWrite, Role: TrialRole.Measured }))
        {
            text.AppendLine("Class writes: the rate within the slowest allocation unit of each trial.");
        }

        foreach (Identity.MarkJudgement mark in ClassMarks.Of(result))
        {
            text.AppendLine(CultureInfo.InvariantCulture, $"{mark.Mark}: {mark.Outcome}, {mark.Statement}. {mark.Text}");
        }

        foreach (string note in result.Summary.Notes)
        {
            text.AppendLine(note);
        }

        text.AppendLine("Valid for this board, bus mode and state of the card. One run is no verdict.");
        return text.ToString();
    }

    private static string Row(TrialKind kind, long blockBytes, int depth, string where, IReadOnlyList<TrialMeasured> trials)
    {
        double[] values = [.. trials.Where(t => t.Valid).Select(TrialFigure.Of).Order()];
        string what = trials[0].Standard == ClassStandard.None ? Block(blockBytes) : ClassConditions.NameOf(trials[0].Standard);
        string name =
            $"{TrialKinds.WordsOf(kind)} {what}{(depth > 1 ? string.Create(CultureInfo.InvariantCulture, $" x{depth}") : "")}{where}";
        if (TrialKinds.NeedsKnownContent(kind) && trials.Any(t => !t.ContentKnown))
        {
            name += " *";
        }

        int invalid = trials.Count - values.Length;
        string remark = invalid > 0 ? string.Create(CultureInfo.InvariantCulture, $"{invalid} invalid") : "";
        if (values.Length == 0)
        {
            return string.Create(CultureInfo.InvariantCulture, $"{name,-28} {"none valid",12} {"",19} {0,3} {"",9} {remark}").TrimEnd();
        }

        var latency = new LatencyHistogram();
        foreach (TrialMeasured trial in trials.Where(t => t.Valid))
        {
            latency.Merge(trial.Latency);
        }

        string median = TrialFigure.Text(Median(values)) + " " + TrialFigure.UnitOf(kind);
        string range = TrialFigure.Text(values[0]) + " to " + TrialFigure.Text(values[^1]);
        string slowest = Text.Latency(latency.PercentileNs(99));
        return string.Create(CultureInfo.InvariantCulture, $"{name,-28} {median,12} {range,19} {values.Length,3} {slowest,9} {remark}")
            .TrimEnd();
    }

    /// <summary>What the first read of an overwritten place costs beside every later one, in the widest range random reads had.</summary>
    private static void FirstReads(StringBuilder text, IReadOnlyList<TrialMeasured> trials)
    {
        TrialMeasured[] reads =
        [
            .. trials.Where(t => t is { Role: TrialRole.Measured, Valid: true, Kind: TrialKind.RandomRead, Pass: > 0 }),
        ];
        if (reads.MaxBy(t => t.RangeBytes) is not { } widest)
        {
            return;
        }

        double[] Of(int pass) =>
            [.. reads.Where(t => t.Pass == pass && t.RangeBytes == widest.RangeBytes && t.QueueDepth == widest.QueueDepth)
                .Select(TrialFigure.Of).Order()];
        if (Of(1) is { Length: > 0 } first && Of(2) is { Length: > 0 } later)
        {
            text.AppendLine(CultureInfo.InvariantCulture,
                $"Places read for the first time after an overwrite: {TrialFigure.Text(Median(first))} IOPS; read again: "
                    + $"{TrialFigure.Text(Median(later))}.");
        }
    }

    private static double Median(double[] sorted) =>
        sorted.Length % 2 == 1 ? sorted[sorted.Length / 2] : (sorted[(sorted.Length / 2) - 1] + sorted[sorted.Length / 2]) / 2;

    private static void Closing(StringBuilder text, IReadOnlyList<TrialMeasured> trials)
    {
        TrialMeasured? closing = trials.FirstOrDefault(t => t is { Role: TrialRole.Closing, Valid: true, Pass: not 1 });
        TrialMeasured? first = closing is null ? null : trials.FirstOrDefault(
            t => t is { Role: TrialRole.Measured, Valid: true, Pass: not 1 } && t.Kind == closing.Kind && t.BlockBytes == closing.BlockBytes
                && t.QueueDepth == closing.QueueDepth && t.Standard == closing.Standard && t.RangeBytes == closing.RangeBytes);
        if (first is not null && TrialFigure.Of(first) > 0)
        {
            double percent = ((TrialFigure.Of(closing!) / TrialFigure.Of(first)) - 1) * 100;
            text.AppendLine(CultureInfo.InvariantCulture,
                $"The first trial ({TrialKinds.WordsOf(first.Kind)}) once more at the end: {percent:+0.0;-0.0;0.0} % "
                    + $"against its first repetition.");
        }
    }

    private static string Range(long bytes) => bytes % (1 << 30) == 0 || bytes < 1 << 30
        ? ByteText.Of(bytes)
        : string.Create(CultureInfo.InvariantCulture, $"{bytes / 1e9:0.#} GB");

    private static string Block(long bytes) => bytes % (1 << 20) == 0
        ? string.Create(CultureInfo.InvariantCulture, $"{bytes >> 20} MiB")
        : string.Create(CultureInfo.InvariantCulture, $"{bytes >> 10} KiB");
}
