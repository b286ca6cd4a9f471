using Cardassay.Collector.Analysis.Cards;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Identity;
using Cardassay.Trials;
using static System.FormattableString;

namespace Cardassay.Collector.Analysis.CrossChecks;

/// <summary>
/// Claimed marks against the figures. Minimums and conditions: SD Physical Layer Simplified Specification 4.10, 4.13 (C, U) and the SD
/// Association's public pages (V, A). Class trials decide where there are any (<see cref="ClassJudge"/>); else ordinary trials, which are not
/// the standard's own procedure and are never said to give a class.
/// </summary>
internal static class MarkChecks
{
    private const long LeastSequentialBlock = 512 * 1024;

    public static IReadOnlyList<MeasuredMark> Of(CardSource source, IReadOnlyList<MetricSummary> metrics)
    {
        (IReadOnlyList<ClassSample> samples, IReadOnlyList<string> declared) =
            metrics.Any(m => TrialKinds.IsClass(m.Kind)) ? ClassTrials.Of(source) : ([], []);
        IReadOnlyList<string> claimed = source.Claim?.Marks ?? [];
        return
        [
            .. claimed.Select(mark => new MeasuredMark(true, ByClass(mark, samples, metrics))),
            .. declared.Except(claimed, StringComparer.OrdinalIgnoreCase).Select(mark => ByClassAlone(mark, samples)).OfType<MarkJudgement>()
                .Select(judgement => new MeasuredMark(false, judgement)),
        ];
    }

    private static MarkJudgement ByClass(string mark, IReadOnlyList<ClassSample> samples, IReadOnlyList<MetricSummary> metrics)
    {
        MarkJudgement? byClass = ByClassAlone(mark, samples);
        if (byClass is { Basis: not MarkBasis.NotJudgeable })
        {
            return byClass;
        }

        MarkJudgement ordinary = Judge(mark, metrics);
        return byClass is not null && ordinary.Met is null ? byClass : ordinary;
    }

    private static MarkJudgement? ByClassAlone(string mark, IReadOnlyList<ClassSample> samples) =>
        SpeedMark.TryParse(mark, out SpeedMark known) ? ClassJudge.Judge(known, samples) : null;

    private static MarkJudgement Judge(string mark, IReadOnlyList<MetricSummary> metrics)
    {
        if (mark.Length < 2 || !int.TryParse(mark.AsSpan(1), System.Globalization.NumberStyles.None, System.Globalization.CultureInfo.InvariantCulture, out int level))
        {
            return new MarkJudgement(mark, null, "No trial stands for this mark.");
        }

        MetricSummary[] inSlot = [.. metrics.Where(m => m.Key.Context is { Attachment: Attachment.Slot, Target: TargetKind.Device } && m.N > 0)];
        return mark[0] switch
        {
            'A' => Application(mark, inSlot),
            'C' or 'U' or 'V' => Sequential(mark, mark[0] == 'U' ? level * 10 : level, inSlot),
            _ => new MarkJudgement(mark, null, "No trial stands for this mark."),
        };
    }

    private static MarkJudgement Sequential(string mark, double floor, MetricSummary[] inSlot)
    {
        if (mark is "V60" or "V90")
        {
            return new MarkJudgement(mark, null, "It is stated for the UHS-II bus, which the boards do not have.");
        }

        MetricSummary[] figures = [.. inSlot.Where(m => m.Kind == TrialKind.SequentialWrite && m.Key.BlockBytes >= LeastSequentialBlock)];
        MetricSummary[] fitting = [.. figures.Where(m => Fits(mark, floor, m.Key.Context.BusMode))];
        if (fitting.Length == 0)
        {
            return new MarkJudgement(mark, null, figures.Length == 0
                ? "No sequential write in a slot was measured."
                : Invariant($"The bus mode {figures[0].Key.Context.BusMode ?? "unknown"} is below the condition of the mark."));
        }

        return Compare(mark, [(fitting.MaxBy(m => m.N)!, floor)]);
    }

    private static bool Fits(string mark, double floor, string? busMode) => mark[0] switch
    {
        'C' => BusCeiling.MegabytesPerSecond(busMode) >= (floor >= 10 ? 25 : 12.5),
        'U' => BusCeiling.MegabytesPerSecond(busMode) >= 50, // SDR50, DDR50 or faster (SD physical layer specification 4.10, table 4-60)
        _ => BusCeiling.IsUhs(busMode) && BusCeiling.MegabytesPerSecond(busMode) >= floor,
    };

    // A2 needs a command queue on the host, which the boards lack: then the floors of A1 are required (SD Association, public page on application classes).
    private static MarkJudgement Application(string mark, MetricSummary[] inSlot)
    {
        (TrialKind Kind, double Floor)[] floors = [(TrialKind.RandomRead, 1500), (TrialKind.RandomWrite, 500), (TrialKind.SequentialWrite, 10)];
        var found = new List<(MetricSummary, double)>();
        foreach ((TrialKind kind, double floor) in floors)
        {
            MetricSummary? metric = inSlot.Where(m => m.Kind == kind && (kind == TrialKind.SequentialWrite || m.Key is { BlockBytes: 4096, QueueDepth: 1 }))
                .MaxBy(m => m.N);
            if (metric is null)
            {
                return new MarkJudgement(mark, null, $"No {TrialKinds.WordsOf(kind)} in a slot was measured.");
            }

            found.Add((metric, floor));
        }

        return Compare(mark, found);
    }

    private static MarkJudgement Compare(string mark, IReadOnlyList<(MetricSummary Metric, double Floor)> figures)
    {
        string text = string.Join("; ", figures.Select(f => Invariant(
            $"{TrialKinds.WordsOf(f.Metric.Kind)} {TrialFigure.Text(f.Metric.Median)} [{TrialFigure.Text(f.Metric.Low)}, {TrialFigure.Text(f.Metric.High)}] {f.Metric.Unit} from {f.Metric.N} values, required {f.Floor}")));
        if (mark == "A2")
        {
            text += " (the floors of A1; those of A2 need a command queue)";
        }

        bool? met = figures.Any(f => !f.Metric.IsRangeOnly && f.Metric.High < f.Floor) ? false
            : figures.All(f => !f.Metric.IsRangeOnly && f.Metric.Low >= f.Floor) ? true
            : null;
        return new MarkJudgement(mark, met, text + ". Ordinary trials, not the condition of the mark.");
    }
}
