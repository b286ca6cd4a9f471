using System.Globalization;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Observability;
using Serilog;
using Serilog.Configuration;
using Serilog.Core;
using Serilog.Events;
using Serilog.Formatting;
using Serilog.Formatting.Compact;
using Serilog.Formatting.Display;

namespace Cardassay.Collector.Commands;

/// <summary>Log lines go to standard error, where journald picks them up; standard output belongs to the commands.</summary>
internal static class Logging
{
    private const string Template = "{Timestamp:yyyy-MM-ddTHH:mm:sszzz} {Level:u3} {Message:lj} {EventId}{NewLine}{Exception}";

    /// <summary>One log for everything in the process, so that its bounds are those of the process.</summary>
    internal static Logger Create(CollectorOptions options, TimeProvider time) => new LoggerConfiguration()
        .MinimumLevel.Is(options.Verbose ? LogEventLevel.Information : LogEventLevel.Warning)
        .MinimumLevel.Override("Microsoft", LogEventLevel.Warning)
        // what keeps a start from working is said in one sentence
        .MinimumLevel.Override("Microsoft.Extensions.Hosting", LogEventLevel.Fatal)
        .MinimumLevel.Override("Grpc", LogEventLevel.Warning)
        .Filter.ByExcluding(IsSaidByCallFaults)
        .WriteTo.Sink(new BoundedSink(LoggerSinkConfiguration.CreateSink(to => Open(to, options)), time))
        .CreateLogger();

    private static bool IsSaidByCallFaults(LogEvent line) =>
        line.Properties.TryGetValue(Constants.SourceContextPropertyName, out LogEventPropertyValue? source)
            && source is ScalarValue { Value: CallFaults.LibraryCategory }
        && line.Properties.TryGetValue("EventId", out LogEventPropertyValue? id) && id is StructureValue { Properties: var parts }
        && parts.Any(p => p is { Name: "Name", Value: ScalarValue { Value: CallFaults.LibraryEvent } });

    private static void Open(LoggerSinkConfiguration to, CollectorOptions options)
    {
        if (options.LogTo is { } writer)
        {
            ITextFormatter format = options.LogAsJson
                ? new CompactJsonFormatter()
                : new MessageTemplateTextFormatter(Template, CultureInfo.InvariantCulture);
            to.Sink(new WriterSink(format, writer));
        }
        else if (options.LogAsJson)
        {
            to.Console(new CompactJsonFormatter(), standardErrorFromLevel: LogEventLevel.Verbose);
        }
        else
        {
            to.Console(outputTemplate: Template, formatProvider: CultureInfo.InvariantCulture,
                standardErrorFromLevel: LogEventLevel.Verbose);
        }
    }
}
