using Cardassay.Collector.Boards;
using Cardassay.Collector.Commands;
using Cardassay.Collector.Intake;
using Cardassay.Journal;
using OpenTelemetry.Metrics;

namespace Cardassay.Collector.Observability;

/// <summary>Puts health and metrics into a collector that serves a page; the short-lived one of a command has neither.</summary>
internal static class Watching
{
    internal static void Add(IServiceCollection services, CollectorOptions options)
    {
        HealthPage.Add(services);
        if (options.Page is null)
        {
            return;
        }

        services.AddMetrics();
        services.AddSingleton(of => new CollectorMetrics(
            of.GetRequiredService<System.Diagnostics.Metrics.IMeterFactory>(),
            of.GetRequiredService<IntakeDesk>(),
            of.GetRequiredService<GroupCommit>(),
            of.GetRequiredService<Projection>(),
            of.GetRequiredService<RecordLog>(),
            of.GetRequiredService<DeliverySessions>(),
            of.GetRequiredService<BoardRegistry>(),
            of.GetRequiredService<Doorkeeper>()));
        services.AddOpenTelemetry().WithMetrics(metrics => metrics
            .AddMeter(CollectorMetrics.MeterName)
            .AddPrometheusExporter(exporter => exporter.ScrapeResponseCacheDurationMilliseconds = 0));
    }

    /// <summary>Makes the instruments, which nothing else asks for.</summary>
    internal static void Begin(WebApplication app, CollectorOptions options)
    {
        if (options.Page is not null)
        {
            app.Services.GetRequiredService<CollectorMetrics>();
        }
    }
}
