using Cardassay.Collector.Hosting;

namespace Cardassay.Collector.Boards;

// What is told of the boards' streams.
internal sealed partial class DeliveryService
{
    [LoggerMessage(EventId = EventNumbers.BoardGreeted, Level = LogLevel.Information,
        Message = "Board {Board} greets with {Epochs} journal epochs, protocol {Protocol}")]
    private static partial void LogGreeted(ILogger logger, string board, int epochs, uint protocol);

    [LoggerMessage(EventId = EventNumbers.BoardLeft, Level = LogLevel.Information, Message = "Board {Board} left")]
    private static partial void LogLeft(ILogger logger, string board);

    [LoggerMessage(EventId = EventNumbers.VersionRefused, Level = LogLevel.Warning,
        Message = "Board {Board} speaks protocol {Lowest} to {Highest}: refused, it keeps its data")]
    private static partial void LogVersion(ILogger logger, string board, uint lowest, uint highest);

    [LoggerMessage(EventId = EventNumbers.AskedAgain, Level = LogLevel.Warning,
        Message = "Board {Board} skipped records of journal {Epoch}; asked again from {From}")]
    private static partial void LogGap(ILogger logger, string board, string epoch, long from);

    [LoggerMessage(EventId = EventNumbers.ProtocolBroken, Level = LogLevel.Warning,
        Message = "Board {Board} broke the protocol: {Problem}")]
    private static partial void LogBad(ILogger logger, string board, string problem);

    [LoggerMessage(EventId = EventNumbers.IntakeMoved, Level = LogLevel.Critical, Message = "Nothing is received: {Problem}")]
    private static partial void LogMovedAway(ILogger logger, string problem);

    [LoggerMessage(EventId = EventNumbers.IntakeDiskFull, Level = LogLevel.Error,
        Message = "The disk of the intake log is full: {Problem}")]
    private static partial void LogDiskFull(ILogger logger, string problem);

    [LoggerMessage(EventId = EventNumbers.StoreUnavailable, Level = LogLevel.Error, Message = "The database could not be asked: {Problem}")]
    private static partial void LogStore(ILogger logger, string problem);

    [LoggerMessage(EventId = EventNumbers.BoardShutOut, Level = LogLevel.Warning, Message = "Board {Board} is shut out; its stream ends")]
    private static partial void LogShutOut(ILogger logger, string board);

    [LoggerMessage(EventId = EventNumbers.BoardSilent, Level = LogLevel.Warning,
        Message = "Board {Board} has been silent too long; the stream is closed")]
    private static partial void LogSilent(ILogger logger, string board);

    [LoggerMessage(EventId = EventNumbers.ClockApart, Level = LogLevel.Warning,
        Message = "The clock of board {Board} is {Seconds} s behind the collector's (negative: ahead)")]
    private static partial void LogClock(ILogger logger, string board, double seconds);

    [LoggerMessage(EventId = EventNumbers.JournalCloned, Level = LogLevel.Warning,
        Message = "Two machines speak for the journal of board {Board} in turn")]
    private static partial void LogCloned(ILogger logger, string board);

    [LoggerMessage(EventId = EventNumbers.JournalRolledBack, Level = LogLevel.Warning,
        Message = "The journal of board {Board} ends at {Last}, but {Through} records of it had been received")]
    private static partial void LogRolledBack(ILogger logger, string board, long last, long through);

    [LoggerMessage(EventId = EventNumbers.JournalMoved, Level = LogLevel.Warning,
        Message = "Board {Board} delivers journal {Epoch}, which came from board {Before} before")]
    private static partial void LogMoved(ILogger logger, string board, string epoch, string before);

    [LoggerMessage(EventId = EventNumbers.RecordsMissing, Level = LogLevel.Warning,
        Message = "Board {Board} no longer has records {First} to {Last} of journal {Epoch}, and they were never received")]
    private static partial void LogMissing(ILogger logger, string board, long first, long last, string epoch);

    [LoggerMessage(EventId = EventNumbers.ContentsConflict, Level = LogLevel.Warning,
        Message = "Board {Board} sent {Count} records whose keys had another content before; both are kept")]
    private static partial void LogConflicts(ILogger logger, string board, int count);
}
