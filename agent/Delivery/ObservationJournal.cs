using System.Diagnostics;
using Cardassay.Journal;
using Cardassay.Trials;
using Cardassay.Wire;

namespace Cardassay.Agent.Delivery;

/// <summary>
/// The board's journal: every observation is encoded here, once, and is on the disk when <see cref="Record"/> returns.
/// </summary>
internal sealed class ObservationJournal : IDisposable
{
    /// <summary>From this fullness on a person is warned.</summary>
    internal const double WarnFullness = 0.8;

    /// <summary>From this fullness on no new run is started.</summary>
    internal const double StopFullness = 0.95;

    private readonly TimeProvider _time;
    private readonly Guid _bootId;
    private readonly Lock _declaring = new();

    private ObservationJournal(RecordLog log, TimeProvider time, Guid bootId)
    {
        Log = log;
        _time = time;
        _bootId = bootId;
    }

    /// <summary>Told after each record that is on the disk.</summary>
    internal event Action? Recorded;

    internal RecordLog Log { get; }

    /// <summary>Records without a receipt.</summary>
    internal long Backlog => Log.Epochs().Sum(e => Math.Max(0, e.Last - Math.Max(Log.ReleasedThrough(e.Epoch), e.First - 1)));

    /// <summary>Opens or makes the journal. Ranges that recovery found lost are journaled, so that the collector learns of them.</summary>
    /// <exception cref="LogInUseException">Another agent has it open.</exception>
    /// <exception cref="IOException">Everybody may write into the folder or the one it is in.</exception>
    internal static ObservationJournal Open(string folder, TimeProvider time, Guid bootId) =>
        (PrivateFile.OpenToEveryone(folder) ?? PrivateFile.OpenToEveryone(Path.GetDirectoryName(Path.GetFullPath(folder))!)) is { } open
            ? throw new IOException(open)
            : Open(
                new RealLogDisk(folder),
                new LogOptions
                {
                    SchemaVersion = ProtocolVersion.Schema,
                    MaxPayloadBytes = ProtocolVersion.MaxPayloadBytes,
                    NewEpoch = () => new LogEpoch(Guid.NewGuid()),
                },
                time,
                bootId);

    /// <summary>The same on any disk and with other limits.</summary>
    internal static ObservationJournal Open(ILogDisk disk, LogOptions options, TimeProvider time, Guid bootId)
    {
        RecordLog log = RecordLog.Open(disk, options);
        var journal = new ObservationJournal(log, time, bootId);
        journal.DeclareLosses();
        return journal;
    }

    /// <summary>
    /// Journals every range that was found lost, at the start or while reading, so that the collector does not wait for it. On a full disk
    /// nothing is journaled and the ranges stay to be declared later.
    /// </summary>
    internal void DeclareLosses()
    {
        lock (_declaring)
        {
            try
            {
                foreach (LostRange range in Log.LostRanges)
                {
                    Record(new RangeLost
                    {
                        Epoch = range.Epoch.ToString(),
                        FirstSequence = range.First,
                        LastSequence = range.Last,
                        Reason = range.Reason,
                    });
                    Log.AcknowledgeLost(range);
                }
            }
            catch (LogDiskFullException)
            {
                // What is not declared stays in the log's list.
            }
        }
    }

    /// <summary>Appends an observation and returns when it is on the disk.</summary>
    /// <exception cref="LogDiskFullException">No room; nothing was written, try again when there is.</exception>
    /// <exception cref="LogFsyncException">The disk does not keep what it is told; the process must end.</exception>
    internal void Record(Observation observation)
    {
        long monotonicNs = (long)(Stopwatch.GetTimestamp() * (1e9 / Stopwatch.Frequency));
        long wallUnixNs = UnixTime.Ns(_time.GetUtcNow());
        Log.Append(new LogStamp(monotonicNs, wallUnixNs, _bootId), ObservationCodec.Encode(observation));
        Log.Flush();
        Recorded?.Invoke();
    }

    public void Dispose() => Log.Dispose();
}
