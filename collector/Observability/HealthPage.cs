using System.Text;
using Microsoft.AspNetCore.Diagnostics.HealthChecks;
using Microsoft.Extensions.Diagnostics.HealthChecks;

namespace Cardassay.Collector.Observability;

/// <summary>`/health/live` and `/health/ready`: 200 or 503, and one line per check for the person who looks.</summary>
internal static class HealthPage
{
    internal static void Add(IServiceCollection services) => services.AddHealthChecks()
        .AddCheck<IntakeHealth>("intake log")
        .AddCheck<StoreHealth>("database")
        .AddCheck<DoorHealth>("door");

    internal static void Map(WebApplication app)
    {
        app.MapGet("/health/live", () => "alive\n");
        app.MapHealthChecks("/health/ready", new HealthCheckOptions { ResponseWriter = WriteAsync });
    }

    internal static string Render(HealthReport report)
    {
        var text = new StringBuilder();
        text.Append(report.Status switch
        {
            HealthStatus.Healthy => "ready\n",
            HealthStatus.Degraded => "ready, with a warning\n",
            _ => "not ready\n",
        });
        foreach ((string name, HealthReportEntry entry) in report.Entries)
        {
            text.Append(name).Append(": ").Append(entry.Description ?? entry.Exception?.Message).Append('\n');
        }

        return text.ToString();
    }

    private static Task WriteAsync(HttpContext context, HealthReport report)
    {
        context.Response.ContentType = "text/plain; charset=utf-8";
        return context.Response.WriteAsync(Render(report), context.RequestAborted);
    }
}
