using Cardassay.Collector.Analysis.Figures;
using Cardassay.Identity;
using Cardassay.Trials;
using static System.FormattableString;

namespace Cardassay.Collector.Analysis.CrossChecks;

/// <summary>
/// Claimed marks against the figures. Minimums and conditions: SD Physical Layer Simplified Specification 4.10, 4.13 (C, U) and the SD
/// Association's public pages (V, A). The trials are not the standard's own procedure: the verdict takes them as what they are.
/// </summary>
internal static class MarkChecks
{
    private const long LeastSequentialBlock = 512 * 1024;

    public static IReadOnlyList<MeasuredMark> Of(Claim? claim, IReadOnlyList<MetricSummary> metrics) =>
        claim?.Marks is { } marks ? [.. marks.Select(mark => Judge(mark, metrics))] : [];

    private static MeasuredMark Judge(string mark, IReadOnlyList<MetricSummary> metrics)
    {
        if (mark.Length < 2 || !int.TryParse(mark.AsSpan(1), System.Globalization.NumberStyles.None, System.Globalization.CultureInfo.InvariantCulture, out int level))
        {
            return new MeasuredMark(mark, null, "No trial stands for this mark.");
        }

        MetricSummary[] inSlot = [.. metrics.Where(m => m.Key.Context is { Attachment: Attachment.Slot, Target: TargetKind.Device } && m.N > 0)];
        return mark[0] switch
        {
            'A' => Application(mark, inSlot),
            'C' or 'U' or 'V' => Sequential(mark, mark[0] == 'U' ? level * 10 : level, inSlot),
            _ => new MeasuredMark(mark, null, "No trial stands for this mark."),
        };
    }

    private static MeasuredMark Sequential(string mark, double floor, MetricSummary[] inSlot)
    {
        if (mark is "V60" or "V90")
        {
            return new MeasuredMark(mark, null, "It is stated for the UHS-II bus, which the boards do not have.");
        }

        MetricSummary[] figures = [.. inSlot.Where(m => m.Kind == TrialKind.SequentialWrite && m.Key.BlockBytes >= LeastSequentialBlock)];
        MetricSummary[] fitting = [.. figures.Where(m => Fits(mark, floor, m.Key.Context.BusMode))];
        if (fitting.Length == 0)
        {
            return new MeasuredMark(mark, null, figures.Length == 0
                ? "No sequential write in a slot was measured."
                : Invariant($"The bus mode {figures[0].Key.Context.BusMode ?? "unknown"} is below the condition of the mark."));
        }

        return Compare(mark, [(fitting.MaxBy(m => m.N)!, floor)]);
    }

    private static bool Fits(string mark, double floor, string? busMode) => mark[0] switch
    {
        'C' => BusCeiling.MegabytesPerSecond(busMode) >= (floor >= 10 ? 25 : 12.5),
        _ => BusCeiling.IsUhs(busMode) && BusCeiling.MegabytesPerSecond(busMode) >= floor,
    };

    // A2 needs a command queue on the host, which the boards lack: then the floors of A1 are required (SD Association, public page on application classes).
    private static MeasuredMark Application(string mark, MetricSummary[] inSlot)
    {
        (TrialKind Kind, double Floor)[] floors = [(TrialKind.RandomRead, 1500), (TrialKind.RandomWrite, 500), (TrialKind.SequentialWrite, 10)];
        var found = new List<(MetricSummary, double)>();
        foreach ((TrialKind kind, double floor) in floors)
        {
            MetricSummary? metric = inSlot.Where(m => m.Kind == kind && (kind == TrialKind.SequentialWrite || m.Key is { BlockBytes: 4096, QueueDepth: 1 }))
                .MaxBy(m => m.N);
            if (metric is null)
            {
                return new MeasuredMark(mark, null, $"No {Metrics.WordsOf(kind)} in a slot was measured.");
            }

            found.Add((metric, floor));
        }

        return Compare(mark, found);
    }

    private static MeasuredMark Compare(string mark, IReadOnlyList<(MetricSummary Metric, double Floor)> figures)
    {
        string text = string.Join("; ", figures.Select(f => Invariant(
            $"{Metrics.WordsOf(f.Metric.Kind)} {Metrics.Format(f.Metric.Median)} [{Metrics.Format(f.Metric.Low)}, {Metrics.Format(f.Metric.High)}] {f.Metric.Unit} from {f.Metric.N} values, required {f.Floor}")));
        if (mark == "A2")
        {
            text += " (the floors of A1; those of A2 need a command queue)";
        }

        bool? met = figures.Any(f => !f.Metric.IsRangeOnly && f.Metric.High < f.Floor) ? false
            : figures.All(f => !f.Metric.IsRangeOnly && f.Metric.Low >= f.Floor) ? true
            : null;
        return new MeasuredMark(mark, met, text + ".");
    }
}
