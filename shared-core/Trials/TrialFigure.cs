using System.Globalization;

namespace Cardassay.Trials;

/// <summary>The one figure of a trial: the same on the board, in its table, in the analysis and in every report.</summary>
public static class TrialFigure
{
    /// <summary>
    /// Operations per second, or decimal megabytes per second. Of a class write that of its slowest allocation unit, which the class is
    /// about; of swap the reads alone, which somebody waits for.
    /// </summary>
    public static double Of(TrialMeasured trial) => trial.Kind switch
    {
        TrialKind.ClassWrite => trial.SlowestUnitBytesPerSecond / 1e6,
        TrialKind.Swap => trial.ReadLatency is { } reads && trial.ElapsedNs > 0 ? reads.Count * 1e9 / trial.ElapsedNs : 0,
        var kind => TrialKinds.CountsOperations(kind) ? trial.OperationsPerSecond : trial.BytesPerSecond / 1e6,
    };

    /// <summary>"IOPS", or "MB/s" (10^6 bytes).</summary>
    public static string UnitOf(TrialKind kind) => TrialKinds.CountsOperations(kind) ? "IOPS" : "MB/s";

    /// <summary>A figure with about three digits at least, invariant culture: "1234", "98.7", "9.87".</summary>
    public static string Text(double value) =>
        value.ToString(Math.Abs(value) >= 100 ? "0" : Math.Abs(value) >= 10 ? "0.0" : "0.00", CultureInfo.InvariantCulture);
}
