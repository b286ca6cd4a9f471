using System.Globalization;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Agent.Trials;

/// <summary>Counts time and written bytes of a run against its limits. A trial that might pass one is not started.</summary>
/// <param name="limits">The plan's.</param>
/// <param name="deviceBytes">Size of the device, for its budget; null for a folder, below which a file system decides.</param>
/// <param name="clock">The clock.</param>
internal sealed class RunLimits(PlanLimits limits, long? deviceBytes, TrialClock clock)
{
    private readonly long _startedNs = clock.NowNs;
    private long _besidesBytes;
    private double _besidesSeconds;

    public long BytesWritten { get; private set; }

    /// <summary>Time of the run without that of a proof, which is whole or nothing.</summary>
    public double ElapsedSeconds => ((clock.NowNs - _startedNs) / 1e9) - _besidesSeconds;

    /// <summary>
    /// Bytes kept back for the small overwrites of random reads: what leads the ranking is not left out because
    /// something else took the budget.
    /// </summary>
    public long ReservedBytes { get; set; }

    /// <param name="bytes">Bytes written.</param>
    /// <param name="isReserved">They are of those that were kept back.</param>
    public void Wrote(long bytes, bool isReserved = false)
    {
        BytesWritten += bytes;
        ReservedBytes -= isReserved ? Math.Min(ReservedBytes, bytes) : 0;
    }

    /// <summary>Counts what a proof wrote and took: the plan's limits are those of its trials.</summary>
    public void Proved(long bytes, double seconds)
    {
        BytesWritten += bytes;
        _besidesBytes += bytes;
        _besidesSeconds += seconds;
    }

    private string Spent => limits.SpentBytes > 0
        ? string.Create(CultureInfo.InvariantCulture,
            $", of which earlier runs have used {limits.SpentBytes / 1e6:0} MB (the next night begins at 12:00 UTC)")
        : "";

    /// <summary>Null when something of this size may start.</summary>
    public RunStop? Refuse(double seconds, long writeBytes)
    {
        if (ElapsedSeconds + seconds > limits.MaxSeconds)
        {
            return new RunStop(RunOutcome.Failed,
                string.Create(CultureInfo.InvariantCulture, $"The next trial would pass the plan's limit of {limits.MaxSeconds} s."),
                IsLimit: true);
        }

        if (deviceBytes is { } bytes && writeBytes > 0 && BytesWritten + ReservedBytes + writeBytes > limits.BudgetBytes(bytes))
        {
            return new RunStop(
                RunOutcome.Failed,
                string.Create(CultureInfo.InvariantCulture, $"What is next would pass the plan's budget of "
                    + $"{limits.MaxCapacities:0.##} times the card a night{Spent}."), IsLimit: true, IsBudget: true);
        }

        return writeBytes > 0 && BytesWritten - _besidesBytes + ReservedBytes + writeBytes > limits.MaxWriteBytes
            ? new RunStop(RunOutcome.Failed,
                $"The next trial would pass the plan's limit of {ByteText.Of(limits.MaxWriteBytes)} written.", IsLimit: true)
            : null;
    }
}
