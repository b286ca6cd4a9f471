using Cardassay.Collector.Boards;
using Microsoft.Extensions.Diagnostics.HealthChecks;

namespace Cardassay.Collector.Observability;

/// <summary>
/// Whether callers without a board's certificate find room. Boards that joined do in any case, so that a full door is a warning.
/// </summary>
internal sealed class DoorHealth(Doorkeeper door) : IHealthCheck
{
    /// <inheritdoc/>
    public Task<HealthCheckResult> CheckHealthAsync(HealthCheckContext context, CancellationToken cancellationToken = default) =>
        Task.FromResult(Judge(door.State()));

    internal static HealthCheckResult Judge(DoorState state) => state.Sentence is { } full
        ? HealthCheckResult.Degraded(full)
        : HealthCheckResult.Healthy(FormattableString.Invariant(
            $"{state.Members} connections of boards, {state.Strangers} without a board's certificate, {state.Arriving} arriving"));
}
