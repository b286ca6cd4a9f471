using Cardassay.Collector.Intake;
using Cardassay.Collector.Observability;
using Microsoft.Extensions.Diagnostics.HealthChecks;

namespace Cardassay.Collector.Tests.Observability;

public sealed class HealthTests
{
    [Theory]
    [InlineData(false, 0.10, HealthStatus.Healthy)]
    [InlineData(false, 0.79, HealthStatus.Healthy)]
    [InlineData(false, 0.80, HealthStatus.Degraded)]
    [InlineData(false, 0.94, HealthStatus.Degraded)]
    [InlineData(false, 0.95, HealthStatus.Unhealthy)]
    [InlineData(true, 0.10, HealthStatus.Unhealthy)]
    public void Intake_ByFullnessAndFailedSync(bool syncFailed, double fullness, HealthStatus expected)
    {
        HealthCheckResult result = IntakeHealth.Judge(syncFailed, fullness, durable: 7);
        Assert.Equal(expected, result.Status);
        Assert.Equal(expected != HealthStatus.Healthy, result.Description!.Contains("make room", StringComparison.Ordinal) || syncFailed);
    }

    [Theory]
    [InlineData(0, 0, HealthStatus.Healthy)]
    [InlineData(500, 30, HealthStatus.Healthy)]
    [InlineData(500, 31, HealthStatus.Unhealthy)]
    public void Store_ByLag(long entries, int seconds, HealthStatus expected) =>
        Assert.Equal(expected, StoreHealth.Judge(new ApplyLag(entries, TimeSpan.FromSeconds(seconds)), applied: 7).Status);
}
