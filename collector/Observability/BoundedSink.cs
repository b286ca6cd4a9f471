using System.Globalization;
using System.Net;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Hosting;
using Cardassay.Trust;
using Serilog;
using Serilog.Core;
using Serilog.Events;
using Serilog.Extensions.Logging;

namespace Cardassay.Collector.Observability;

/// <summary>
/// The last gate before the log, for our lines and those of the libraries: whatever boards and strangers do, it grows by a bounded number
/// of bounded lines a minute. The figures are common sense, no source: a laboratory whose boards all come back at once is written whole.
/// </summary>
internal sealed partial class BoundedSink : ILogEventSink, IDisposable
{
    /// <summary>Lines of one event about one caller in a minute.</summary>
    internal const int PerCaller = 20;

    /// <summary>Lines of one event in a minute.</summary>
    internal const int Together = 200;

    /// <summary>A line with a stack trace weighs as much as this many without.</summary>
    internal const int TraceCost = 10;

    /// <summary>Longest text of one property, characters.</summary>
    internal const int LongestText = 1_000;

    /// <summary>Properties that say whom a line is about, the most exact one first.</summary>
    private static readonly string[] CallerNames = ["Caller", "Board", "From"];

    private readonly ILogEventSink _log;
    private readonly Logger _own;
    private readonly LineBudget _budget;

    /// <param name="log">Where lines go; it is disposed of with this.</param>
    /// <param name="time">Clock of the minutes.</param>
    internal BoundedSink(ILogEventSink log, TimeProvider time)
    {
        _log = log;
        _own = new LoggerConfiguration().WriteTo.Sink(log).CreateLogger();
        Microsoft.Extensions.Logging.ILogger own = new SerilogLoggerFactory(_own).CreateLogger(typeof(BoundedSink).FullName!);
        _budget = new LineBudget(time, PerCaller, Together, (of, lines) => LogHeldBack(own, lines, of));
    }

    /// <inheritdoc/>
    public void Emit(LogEvent logEvent)
    {
        if (_budget.Take(KindOf(logEvent), CallerOf(logEvent), logEvent.Exception is null ? 1 : TraceCost))
        {
            Tame(logEvent);
            _log.Emit(logEvent);
        }
    }

    /// <inheritdoc/>
    public void Dispose()
    {
        _budget.Dispose();
        _own.Dispose();
    }

    /// <summary>The number of one of our events; else the library's category and number.</summary>
    private static string KindOf(LogEvent line)
    {
        string number = line.Properties.TryGetValue("EventId", out LogEventPropertyValue? id)
            && id is StructureValue { Properties: var parts }
            && parts.FirstOrDefault(p => p.Name == "Id")?.Value is ScalarValue { Value: int value }
                ? value.ToString(CultureInfo.InvariantCulture) : "";
        string source = TextOf(line, "SourceContext");
        return source.StartsWith("Cardassay.", StringComparison.Ordinal) && number.Length > 0 ? number : $"{source} {number}".Trim();
    }

    private static string CallerOf(LogEvent line)
    {
        string caller = CallerNames.Select(name => TextOf(line, name)).FirstOrDefault(text => text.Length > 0) ?? "";
        return IPAddress.TryParse(caller, out IPAddress? address) ? CallLimits.Network(address) : caller;
    }

    private static string TextOf(LogEvent line, string property) =>
        line.Properties.TryGetValue(property, out LogEventPropertyValue? found) && found is ScalarValue { Value: { } value }
            ? value.ToString() ?? ""
            : "";

    /// <summary>Text that came from elsewhere makes one line, and not a long one.</summary>
    private static void Tame(LogEvent line)
    {
        foreach ((string name, LogEventPropertyValue found) in line.Properties.ToArray())
        {
            if (found is ScalarValue { Value: string text } && (text.Length > LongestText || PlainText.Clean(text) != text))
            {
                string cut = text.Length > LongestText ? text[..LongestText] + "..." : text;
                line.AddOrUpdateProperty(new LogEventProperty(name, new ScalarValue(PlainText.Clean(cut))));
            }
        }
    }

    [LoggerMessage(EventId = EventNumbers.LinesHeldBack, Level = LogLevel.Warning,
        Message = "{Count} more lines of event {Event} were held back within a minute")]
    private static partial void LogHeldBack(Microsoft.Extensions.Logging.ILogger logger, long count, string @event);
}
