using System.Globalization;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Collector.Analysis.Figures;

/// <summary>Name, unit and place of the figure a trial kind gives.</summary>
public static class Metrics
{
    /// <summary>Order of every table: random read first, then random and synchronous write, sequential last.</summary>
    public static IReadOnlyList<TrialKind> InOrder { get; } =
    [
        TrialKind.RandomRead, TrialKind.RandomWrite, TrialKind.SynchronousWrite, TrialKind.Mixed, TrialKind.Transaction,
        TrialKind.BootRead, TrialKind.PackageInstall, TrialKind.DatabaseCommit, TrialKind.LogAppend, TrialKind.Swap,
        TrialKind.SequentialRead, TrialKind.SequentialWrite, TrialKind.SustainedWrite, TrialKind.Cliff, TrialKind.OpenSegmentWrite,
        TrialKind.StallWatch, TrialKind.ClassRandomRead, TrialKind.ClassRandomWrite, TrialKind.ClassWrite,
    ];

    /// <summary>Name in files and reports: the kind in camel case ("randomRead").</summary>
    public static string NameOf(TrialKind kind)
    {
        string name = kind.ToString();
        return char.ToLowerInvariant(name[0]) + name[1..];
    }

    /// <summary>The kind in words: "random read".</summary>
    public static string WordsOf(TrialKind kind) => PlanKinds.WordsOf(kind);

    /// <summary>The kind of that name, or null.</summary>
    public static TrialKind? Parse(string name)
    {
        foreach (TrialKind kind in InOrder)
        {
            if (NameOf(kind) == name)
            {
                return kind;
            }
        }

        return null;
    }

    /// <summary>"IOPS" for random and synchronous kinds, "MB/s" (10^6 bytes) for sequential ones.</summary>
    public static string UnitOf(TrialKind kind) => IsSequential(kind) ? "MB/s" : "IOPS";

    /// <summary>True for kinds whose figure is a throughput.</summary>
    public static bool IsSequential(TrialKind kind) => kind is
        TrialKind.SequentialRead or TrialKind.SequentialWrite or TrialKind.SustainedWrite or TrialKind.OpenSegmentWrite or TrialKind.ClassWrite
        or TrialKind.Cliff;

    /// <summary>True for kinds that read: their content must be known.</summary>
    public static bool Reads(TrialKind kind) => PlanKinds.Reads(kind) && kind != TrialKind.StallWatch;

    /// <summary>True for kinds whose trials the report shows second by second: those that write, where a card's cache runs out and its housekeeping begins.</summary>
    public static bool ShowsTimeline(TrialKind kind) => PlanKinds.Writes(kind) && kind is not (TrialKind.Mixed or TrialKind.Swap);

    /// <summary>The figure: operations per second, or decimal megabytes per second; of a class write those of its slowest allocation unit, of swap the reads alone.</summary>
    public static double Of(TrialMeasured trial) => trial.Kind switch
    {
        TrialKind.ClassWrite => trial.SlowestUnitBytesPerSecond / 1e6,
        TrialKind.Swap => trial.ReadLatency is { } reads && trial.ElapsedNs > 0 ? reads.Count * 1e9 / trial.ElapsedNs : 0,
        var kind => IsSequential(kind) ? trial.BytesPerSecond / 1e6 : trial.OperationsPerSecond,
    };

    /// <summary>A figure with about four digits, invariant culture: "1234", "98.7", "9.87".</summary>
    public static string Format(double value) =>
        value.ToString(Math.Abs(value) >= 100 ? "0" : Math.Abs(value) >= 10 ? "0.0" : "0.00", CultureInfo.InvariantCulture);

    /// <summary>Position in <see cref="InOrder"/>; behind the last for an unknown kind.</summary>
    public static int OrderOf(TrialKind kind)
    {
        for (int i = 0; i < InOrder.Count; i++)
        {
            if (InOrder[i] == kind)
            {
                return i;
            }
        }

        return InOrder.Count;
    }
}
