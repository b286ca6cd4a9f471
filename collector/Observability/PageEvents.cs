using Cardassay.Collector.Hosting;

namespace Cardassay.Collector.Observability;

/// <summary>What is logged of the live page.</summary>
internal sealed partial class PageEvents(ILogger<PageEvents> logger)
{
    internal void TellUnread(Exception problem) => LogUnread(logger, problem.Message);

    [LoggerMessage(EventId = EventNumbers.PageUnread, Level = LogLevel.Warning,
        Message = "The live page could not read the records and tries again: {Problem}")]
    private static partial void LogUnread(ILogger logger, string problem);
}
