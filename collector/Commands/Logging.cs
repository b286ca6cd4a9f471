using Serilog;
using Serilog.Events;

namespace Cardassay.Collector.Commands;

/// <summary>Log lines go to standard error, where journald picks them up; standard output belongs to the commands.</summary>
internal static class Logging
{
    internal static Serilog.Core.Logger Create(bool verbose)
    {
        var configuration = new LoggerConfiguration();
        Configure(configuration, verbose);
        return configuration.CreateLogger();
    }

    internal static void Configure(LoggerConfiguration configuration, bool verbose) => configuration
        .MinimumLevel.Is(verbose ? LogEventLevel.Information : LogEventLevel.Warning)
        .MinimumLevel.Override("Microsoft", LogEventLevel.Warning)
        .MinimumLevel.Override("Grpc", LogEventLevel.Warning)
        .WriteTo.Console(
            outputTemplate: "{Timestamp:yyyy-MM-ddTHH:mm:sszzz} {Level:u3} {Message:lj} {EventId}{NewLine}{Exception}",
            formatProvider: System.Globalization.CultureInfo.InvariantCulture,
            standardErrorFromLevel: LogEventLevel.Verbose);
}
