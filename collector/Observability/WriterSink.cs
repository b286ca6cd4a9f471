using Serilog.Core;
using Serilog.Events;
using Serilog.Formatting;

namespace Cardassay.Collector.Observability;

/// <summary>Log lines into a writer, which stays the caller's.</summary>
internal sealed class WriterSink(ITextFormatter format, TextWriter writer) : ILogEventSink
{
    private readonly Lock _gate = new();

    /// <inheritdoc/>
    public void Emit(LogEvent logEvent)
    {
        lock (_gate)
        {
            format.Format(logEvent, writer);
        }
    }
}
