using Serilog;
using Serilog.Events;
using Serilog.Formatting.Compact;

namespace Cardassay.Collector.Commands;

/// <summary>Log lines go to standard error, where journald picks them up; standard output belongs to the commands.</summary>
internal static class Logging
{
    internal static Serilog.Core.Logger Create(CollectorOptions options)
    {
        var configuration = new LoggerConfiguration();
        Configure(configuration, options);
        return configuration.CreateLogger();
    }

    internal static void Configure(LoggerConfiguration configuration, CollectorOptions options)
    {
        configuration
            .MinimumLevel.Is(options.Verbose ? LogEventLevel.Information : LogEventLevel.Warning)
            .MinimumLevel.Override("Microsoft", LogEventLevel.Warning)
            .MinimumLevel.Override("Microsoft.Extensions.Hosting", LogEventLevel.Fatal) // what keeps a start from working is said in one sentence
            .MinimumLevel.Override("Grpc", LogEventLevel.Warning);
        if (options.LogAsJson)
        {
            configuration.WriteTo.Console(new CompactJsonFormatter(), standardErrorFromLevel: LogEventLevel.Verbose);
            return;
        }

        configuration.WriteTo.Console(
            outputTemplate: "{Timestamp:yyyy-MM-ddTHH:mm:sszzz} {Level:u3} {Message:lj} {EventId}{NewLine}{Exception}",
            formatProvider: System.Globalization.CultureInfo.InvariantCulture,
            standardErrorFromLevel: LogEventLevel.Verbose);
    }
}
