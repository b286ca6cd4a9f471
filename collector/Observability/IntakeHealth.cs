using Cardassay.Collector.Hosting;
using Cardassay.Journal;
using Microsoft.Extensions.Diagnostics.HealthChecks;

namespace Cardassay.Collector.Observability;

/// <summary>Whether receipts can be given: the intake log takes what it is told and has room.</summary>
internal sealed class IntakeHealth(RecordLog log, CollectorOptions options) : IHealthCheck
{
    /// <summary>From this share of its room on the collector counts as not ready.</summary>
    internal const double FullAt = 0.95;

    /// <summary>From this share of its room on a person is warned.</summary>
    internal const double NearlyFullAt = 0.8;

    /// <inheritdoc/>
    public Task<HealthCheckResult> CheckHealthAsync(HealthCheckContext context, CancellationToken cancellationToken = default) =>
        Task.FromResult(IsMoved()
            ? HealthCheckResult.Unhealthy(Moved(options.IntakeFolder))
            : Judge(log.Failed.IsCompleted, log.Fullness, log.DurableSequence));

    /// <summary>What a person reads when the file that is written is no longer at its path.</summary>
    internal static string Moved(string folder) =>
        $"the file being written is no longer in {folder}: it or the folder was removed, moved or replaced. "
        + "Nothing more is received until it is back in its place; what has a receipt is in the database. If it is gone for good, "
        + "stop the collector and run `rebuild`.";

    private bool IsMoved()
    {
        try
        {
            log.CheckInPlace();
            return false;
        }
        catch (LogMovedException)
        {
            return true;
        }
        catch (Exception e) when (e is LogFsyncException or ObjectDisposedException)
        {
            return false; // which Judge tells
        }
    }

    internal static HealthCheckResult Judge(bool syncFailed, double fullness, long durable)
    {
        string percent = FormattableString.Invariant($"{fullness * 100:0} %");
        return syncFailed ? HealthCheckResult.Unhealthy("the intake log could not be written to disk; the collector ends")
            : fullness >= FullAt ? HealthCheckResult.Unhealthy($"the intake log has taken {percent} of its room; make room on its disk")
            : fullness >= NearlyFullAt
                ? HealthCheckResult.Degraded($"the intake log has taken {percent} of its room; make room on its disk soon")
            : HealthCheckResult.Healthy(FormattableString.Invariant($"entry {durable} is on the disk"));
    }
}
