using Cardassay.Collector.Intake;
using Cardassay.Collector.Storage;
using Microsoft.Extensions.Diagnostics.HealthChecks;

namespace Cardassay.Collector.Observability;

/// <summary>Whether questions can be answered: the database answers and keeps up with the intake log.</summary>
internal sealed class StoreHealth(Projection projection) : IHealthCheck
{
    /// <summary>Behind for longer than this counts as not ready. Receipts are given all the same.</summary>
    internal static readonly TimeSpan LagLimit = TimeSpan.FromSeconds(30);

    /// <inheritdoc/>
    public Task<HealthCheckResult> CheckHealthAsync(HealthCheckContext context, CancellationToken cancellationToken = default)
    {
        try
        {
            return Task.FromResult(projection.Failure is { } failure
                ? HealthCheckResult.Unhealthy($"{projection.State}: {failure.Message} Receipts are given all the same.")
                : Judge(projection.Lag(), projection.Position.Sequence));
        }
        catch (StoreUnavailableException e)
        {
            return Task.FromResult(HealthCheckResult.Unhealthy("the database cannot be asked; receipts are given all the same", e));
        }
    }

    internal static HealthCheckResult Judge(ApplyLag lag, long applied) => lag.Age > LagLimit
        ? HealthCheckResult.Unhealthy(FormattableString.Invariant(
            $"the database has been behind for {lag.Age.TotalSeconds:0} s, by {lag.Entries} entries; receipts are given all the same"))
        : HealthCheckResult.Healthy(FormattableString.Invariant($"applied through {applied}"));
}
