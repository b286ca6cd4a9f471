using Cardassay.Collector.Hosting;
using Cardassay.Journal;

namespace Cardassay.Collector.Observability;

/// <summary>What is logged of the process itself and of the state it found its intake log in.</summary>
internal sealed partial class HostEvents(ILogger logger)
{
    internal void TellStart(RecoveryReport recovery, string dataFolder)
    {
        LogStarted(logger, CollectorVersion.Text, dataFolder);
        foreach (CutTail cut in recovery.Cuts)
        {
            LogCut(logger, cut.Bytes, cut.File);
        }

        foreach (SetAsideSegment segment in recovery.SetAside)
        {
            LogSetAside(logger, segment.File);
        }

        foreach (LostRange lost in recovery.LostRanges)
        {
            LogLost(logger, lost.First, lost.Last, lost.Reason);
        }
    }

    internal void TellStop() => LogStopped(logger);

    internal void TellSyncFailed(string problem) => LogSyncFailed(logger, problem);

    [LoggerMessage(EventId = EventNumbers.IntakeSyncFailed, Level = LogLevel.Critical,
        Message = "The intake log cannot be written to disk: {Problem}. The collector ends")]
    private static partial void LogSyncFailed(ILogger logger, string problem);

    [LoggerMessage(EventId = EventNumbers.Started, Level = LogLevel.Information, Message = "Collector {Version} serves {DataFolder}")]
    private static partial void LogStarted(ILogger logger, string version, string dataFolder);

    [LoggerMessage(EventId = EventNumbers.Stopped, Level = LogLevel.Information, Message = "The collector stops")]
    private static partial void LogStopped(ILogger logger);

    [LoggerMessage(EventId = EventNumbers.TailCut, Level = LogLevel.Warning,
        Message = "{Bytes} bytes of an unfinished write were cut from {File} of the intake log; none of it had a receipt")]
    private static partial void LogCut(ILogger logger, long bytes, string file);

    [LoggerMessage(EventId = EventNumbers.SegmentSetAside, Level = LogLevel.Error,
        Message = "The damaged segment {File} of the intake log was set aside")]
    private static partial void LogSetAside(ILogger logger, string file);

    [LoggerMessage(EventId = EventNumbers.IntakeEntriesLost, Level = LogLevel.Error,
        Message = "Entries {First} to {Last} of the intake log are lost: {Reason}")]
    private static partial void LogLost(ILogger logger, long first, long last, string reason);
}
