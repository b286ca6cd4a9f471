using System.Net;
using Cardassay.Collector.Hosting;

namespace Cardassay.Collector.Boards;

/// <summary>
/// Writes down who was refused and why; never what was sent. Someone who knocks without rest fills no disk and hides nobody else: after
/// 20 lines about one address, or 60 in all, the rest of that minute is only counted.
/// </summary>
internal sealed partial class RefusalLog : IDisposable
{
    /// <summary>Lines in one minute.</summary>
    internal const int LinesPerMinute = 60;

    /// <summary>Lines in one minute about one address.</summary>
    internal const int LinesPerAddress = 20;

    private readonly ILogger<RefusalLog> _logger;
    private readonly LineBudget _budget;
    private long _total;

    public RefusalLog(ILogger<RefusalLog> logger, TimeProvider time)
    {
        _logger = logger;
        _budget = new LineBudget(time, LinesPerAddress, LinesPerMinute, (_, count) => LogUnwritten(logger, count));
    }

    /// <summary>Refusals since the start.</summary>
    internal long Total => Interlocked.Read(ref _total);

    internal void Refused(IPAddress? from, string what, string why)
    {
        Interlocked.Increment(ref _total);
        if (_budget.Take("refusal", CallLimits.Network(from)))
        {
            LogRefused(_logger, from, what, why);
        }
    }

    /// <summary>Tells what was only counted.</summary>
    public void Dispose() => _budget.Dispose();

    [LoggerMessage(EventId = EventNumbers.Refused, Level = LogLevel.Warning, Message = "Refused {From}: {What}: {Why}")]
    private static partial void LogRefused(ILogger logger, IPAddress? from, string what, string why);

    [LoggerMessage(EventId = EventNumbers.RefusalsNotWritten, Level = LogLevel.Warning,
        Message = "{Count} more refusals were not written down")]
    private static partial void LogUnwritten(ILogger logger, long count);
}
