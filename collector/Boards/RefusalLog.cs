using System.Net;
using Cardassay.Collector.Observability;

namespace Cardassay.Collector.Boards;

/// <summary>
/// Writes down who was refused and why; never what was sent. Someone who knocks without rest fills no disk: after 60 lines in a minute
/// the rest of that minute is only counted.
/// </summary>
internal sealed partial class RefusalLog(ILogger<RefusalLog> logger, TimeProvider time)
{
    /// <summary>Lines in one minute.</summary>
    internal const int LinesPerMinute = 60;

    private readonly Lock _gate = new();
    private long _minuteBegan;
    private int _lines;
    private long _unwritten;
    private long _total;

    /// <summary>Refusals since the start.</summary>
    internal long Total => Interlocked.Read(ref _total);

    internal void Refused(IPAddress? from, string what, string why)
    {
        Interlocked.Increment(ref _total);
        long unwritten;
        lock (_gate)
        {
            if (_lines == 0 || time.GetElapsedTime(_minuteBegan) >= TimeSpan.FromMinutes(1))
            {
                _minuteBegan = time.GetTimestamp();
                _lines = 0;
            }

            if (_lines >= LinesPerMinute)
            {
                _unwritten++;
                return;
            }

            _lines++;
            unwritten = _unwritten;
            _unwritten = 0;
        }

        if (unwritten > 0)
        {
            LogUnwritten(logger, unwritten);
        }

        LogRefused(logger, from, what, why);
    }

    [LoggerMessage(EventId = EventNumbers.Refused, Level = LogLevel.Warning, Message = "Refused {From}: {What}: {Why}")]
    private static partial void LogRefused(ILogger logger, IPAddress? from, string what, string why);

    [LoggerMessage(EventId = EventNumbers.RefusalsNotWritten, Level = LogLevel.Warning, Message = "{Count} more refusals were not written down")]
    private static partial void LogUnwritten(ILogger logger, long count);
}
