using System.Globalization;
using System.Text;
using Cardassay.Trials;

namespace Cardassay.Demo;

/// <summary>The two plans every card goes through in a night: raw behind its file system, and in a folder of it.</summary>
internal sealed record NightPlan(string Name, string Version, TargetKind Target, long RangeStartBytes, IReadOnlyList<PlanStep> Steps)
{
    private const long Mebi = 1 << 20;

    /// <summary>Raw, in the gigabyte behind the 4 GiB the file system takes. The range is written before it is read, in the order of the steps.</summary>
    public static readonly NightPlan Raw = new("tarrow-night", "1", TargetKind.Device, 4096 * Mebi,
    [
        new(TrialKind.SequentialWrite, Mebi, 1024 * Mebi, Seconds: null, Deviation: 0.010, LatencySpread: 0.10),
        new(TrialKind.SequentialRead, Mebi, 1024 * Mebi, Seconds: null, Deviation: 0.006, LatencySpread: 0.03),
        new(TrialKind.RandomWrite, 4096, 1024 * Mebi, Seconds: 20, Deviation: 0.015, LatencySpread: 0.35),
        new(TrialKind.RandomRead, 4096, 1024 * Mebi, Seconds: 20, Deviation: 0.008, LatencySpread: 0.09),
    ]);

    /// <summary>In a scratch file of 256 MiB.</summary>
    public static readonly NightPlan Folder = new("tarrow-night-folder", "1", TargetKind.Folder, 0,
    [
        new(TrialKind.SynchronousWrite, 4096, 256 * Mebi, Seconds: 20, Deviation: 0.014, LatencySpread: 0.25),
    ]);

    /// <summary>Bytes the plan writes at the most, with one warm-up a step and the closing trial.</summary>
    public long MostBytesWritten(Pace pace, int repetitions) => Steps.Where(s => s.Writes).Sum(s =>
        (repetitions + 2) * (s.Seconds is int seconds ? (long)(s.OperationsPerSecond(pace) * seconds * 1.2) * s.BlockBytes : s.RangeBytes));

    /// <summary>The plan as JSON text, as a board would report it.</summary>
    public string Text(int repetitions)
    {
        var text = new StringBuilder();
        text.Append(CultureInfo.InvariantCulture, $"{{\"name\":\"{Name}\",\"version\":\"{Version}\",\"steps\":[");
        for (int i = 0; i < Steps.Count; i++)
        {
            PlanStep step = Steps[i];
            string kind = char.ToLowerInvariant(step.Kind.ToString()[0]) + step.Kind.ToString()[1..];
            text.Append(CultureInfo.InvariantCulture,
                $"{(i == 0 ? "" : ",")}{{\"kind\":\"{kind}\",\"blockBytes\":{step.BlockBytes},\"rangeBytes\":{step.RangeBytes},\"warmUps\":1,\"repetitions\":{repetitions}}}");
        }

        return text.Append("]}").ToString();
    }
}
