using System.Globalization;
using System.Text;
using Cardassay.Trials;

namespace Cardassay.Demo;

/// <summary>The two plans every card goes through in a night: raw behind its file system, and in a folder of it.</summary>
internal sealed record NightPlan(string Name, string Version, TargetKind Target, long RangeStartBytes, IReadOnlyList<PlanStep> Steps)
{
    /// <summary>Rest before each trial, seconds.</summary>
    public const int RestSeconds = 5;

    private const long Mebi = 1 << 20;

    /// <summary>Raw, in the gigabyte behind the 4 GiB the file system takes. Every round writes the range before it reads it.</summary>
    public static readonly NightPlan Raw = new("tarrow-night", "1", TargetKind.Device, 4096 * Mebi,
    [
        new(TrialKind.SequentialWrite, Mebi / 2, 1024 * Mebi, Seconds: null, Deviation: 0.010, LatencySpread: 0.10),
        new(TrialKind.SequentialRead, Mebi / 2, 1024 * Mebi, Seconds: null, Deviation: 0.006, LatencySpread: 0.03),
        new(TrialKind.RandomWrite, 4096, 1024 * Mebi, Seconds: 20, Deviation: 0.015, LatencySpread: 0.35),
        new(TrialKind.RandomRead, 4096, 1024 * Mebi, Seconds: 20, Deviation: 0.008, LatencySpread: 0.09),
    ]);

    /// <summary>In a scratch file of 256 MiB.</summary>
    public static readonly NightPlan Folder = new("tarrow-night-folder", "1", TargetKind.Folder, 0,
    [
        new(TrialKind.SynchronousWrite, 4096, 256 * Mebi, Seconds: 20, Deviation: 0.014, LatencySpread: 0.25),
    ]);

    /// <summary>Bytes the plan writes at the most: one round of warm-up, the measured ones and the closing trial.</summary>
    public long MostBytesWritten(int repetitions) => (repetitions + 2) * Steps.Where(s => s.Writes).Sum(s => s.RangeBytes);

    /// <summary>The plan as the JSON text of a plan file.</summary>
    public string Text(int repetitions)
    {
        var text = new StringBuilder();
        text.Append(CultureInfo.InvariantCulture,
            $"{{\"name\":\"{Name}\",\"version\":\"{Version}\",\"repetitions\":{repetitions},\"warmUp\":1,\"restSeconds\":{RestSeconds},\"regionBytes\":{Steps[0].RangeBytes},\"steps\":[");
        for (int i = 0; i < Steps.Count; i++)
        {
            PlanStep step = Steps[i];
            string kind = char.ToLowerInvariant(step.Kind.ToString()[0]) + step.Kind.ToString()[1..];
            text.Append(CultureInfo.InvariantCulture,
                $"{(i == 0 ? "" : ",")}{{\"kind\":\"{kind}\",\"blockBytes\":{step.BlockBytes},\"range\":{{\"startBytes\":{RangeStartBytes},\"bytes\":{step.RangeBytes}}},\"seconds\":{step.Seconds ?? 120},\"bytes\":{step.RangeBytes}}}");
        }

        return text.Append("]}").ToString();
    }
}
