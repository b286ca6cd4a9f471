using System.Diagnostics.Metrics;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Hosting;
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
            of.GetRequiredService<IMeterFactory>(),
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

        // A meter is known to the whole process by its name: without this a collector would show the figures of another one beside it.
        services.ConfigureOpenTelemetryMeterProvider((of, metrics) => metrics.AddView(
            instrument => ReferenceEquals(instrument.Meter.Scope, of.GetRequiredService<IMeterFactory>())
                ? null
                : MetricStreamConfiguration.Drop));
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
