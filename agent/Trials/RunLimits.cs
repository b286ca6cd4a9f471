using System.Globalization;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Agent.Trials;

/// <summary>Counts time and written bytes of a run against its limits. A trial that might pass one is not started.</summary>
internal sealed class RunLimits(PlanLimits limits, TimeProvider time)
{
    private readonly long _startedAt = time.GetTimestamp();

    public long BytesWritten { get; private set; }

    public double ElapsedSeconds => time.GetElapsedTime(_startedAt).TotalSeconds;

    public void Wrote(long bytes) => BytesWritten += bytes;

    /// <summary>Null when something of this size may start.</summary>
    public RunStop? Refuse(double seconds, long writeBytes)
    {
        if (ElapsedSeconds + seconds > limits.MaxSeconds)
        {
            return new RunStop(RunOutcome.Failed, string.Create(CultureInfo.InvariantCulture, $"The next trial would pass the plan's limit of {limits.MaxSeconds} s."), IsLimit: true);
        }

        return BytesWritten + writeBytes > limits.MaxWriteBytes
            ? new RunStop(RunOutcome.Failed, $"The next trial would pass the plan's limit of {ByteText.Of(limits.MaxWriteBytes)} written.", IsLimit: true)
            : null;
    }
}
