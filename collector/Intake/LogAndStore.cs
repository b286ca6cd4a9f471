using System.Globalization;
using Cardassay.Collector.Storage;
using Cardassay.Collector.Storage.Reading;
using Cardassay.Journal;

namespace Cardassay.Collector.Intake;

/// <summary>
/// The intake log and the store, opened together, because each may know what the other lost: a store that stands beyond the log, or in a log that is
/// not there, is evidence and is never taken for an outdated copy.
/// </summary>
internal sealed class LogAndStore
{
    private readonly ILogDisk _disk;
    private IReadOnlyList<V1.IntakeLoss> _missing = [];
    private IReadOnlyList<LostRange> _told = [];

    /// <param name="disk">The log's disk, to look into.</param>
    /// <param name="log">The log.</param>
    /// <param name="place">The store's place.</param>
    /// <param name="stored">Where the store stood; null when it could not say.</param>
    /// <param name="epochs">The log's epochs before it was opened.</param>
    /// <param name="isForReading">True where nothing may be changed.</param>
    private LogAndStore(ILogDisk disk, RecordLog log, IStorePlace place, IntakePosition? stored, IReadOnlyList<LogEpoch> epochs, bool isForReading)
    {
        _disk = disk;
        Log = log;
        Place = place;
        Stored = stored ?? new IntakePosition("", 0);
        IsForReading = isForReading;
        if (stored is not { } at || (at.Epoch.Length > 0 && epochs.All(e => e.ToString() != at.Epoch)))
        {
            _missing = Missing(disk, stored);
            Beyond = End(log, epochs);
        }
    }

    internal RecordLog Log { get; }

    internal IStorePlace Place { get; }

    /// <summary>Where the store stood when it was looked into.</summary>
    internal IntakePosition Stored { get; }

    internal bool IsForReading { get; }

    /// <summary>Opens both to write.</summary>
    /// <param name="disk">Makes the log's disk, once it is sure that a log may be begun there.</param>
    /// <param name="reading">The same disk to look into; nothing is made there.</param>
    /// <param name="place">Where the store lies, of a collector of that name.</param>
    /// <param name="remembered">The collector's name among those that share a store; null when nothing remembers it, which makes it the first epoch of the log.</param>
    /// <param name="options">How the log is kept.</param>
    /// <param name="mayBeginAnew">True for the explicit command that makes a new log where the one that the store stands in is gone.</param>
    /// <exception cref="LogMissingException">The store stands in a log that is not there.</exception>
    /// <exception cref="StoreUnavailableException">The store cannot be asked now.</exception>
    internal static LogAndStore OpenForWriting(
        Func<ILogDisk> disk, ILogDisk reading, Func<string, IStorePlace> place, string? remembered, LogOptions options, bool mayBeginAnew = false)
    {
        IReadOnlyList<LogEpoch> epochs = RecordLog.EpochsIn(reading);
        string? name = remembered ?? epochs.Select(e => e.ToString()).FirstOrDefault();
        IntakePosition? stored = Look(place(name ?? ""));
        bool isHere = stored is { Epoch.Length: 0 } || (stored is { } at ? epochs.Any(e => e.ToString() == at.Epoch) : epochs.Count > 0);
        if (!isHere && !mayBeginAnew)
        {
            throw new LogMissingException(MissingText(reading, epochs, stored, place(name ?? "").Name)
                + " Is its disk mounted, was it moved? Put it back and start again. If it is gone for good, `rebuild` begins a new log with what the database holds. Nothing was changed.");
        }

        RecordLog log = RecordLog.Open(disk(), options with { KnownThrough = Known(stored, epochs) });
        return new LogAndStore(reading, log, place(name ?? log.Epochs()[0].Epoch.ToString()), stored, epochs, isForReading: false)
        {
            Name = name ?? log.Epochs()[0].Epoch.ToString(),
        };
    }

    /// <summary>Opens both to read. Nothing on the disk is made, changed or cut.</summary>
    /// <exception cref="StoreUnavailableException">The store cannot be asked now.</exception>
    /// <param name="disk">The log's disk; nothing is made there.</param>
    /// <param name="place">Where the store lies, of a collector of that name.</param>
    /// <param name="remembered">The collector's name among those that share a store; null when nothing remembers it.</param>
    /// <param name="options">How the log is kept.</param>
    /// <param name="above">Makes the store for what the log holds beyond the one that is read; null for a file among the temporary ones.</param>
    internal static LogAndStore OpenForReading(ILogDisk disk, Func<string, IStorePlace> place, string? remembered, LogOptions options, Func<IRecordStore>? above = null)
    {
        IReadOnlyList<LogEpoch> epochs = RecordLog.EpochsIn(disk);
        string name = remembered ?? epochs.Select(e => e.ToString()).FirstOrDefault() ?? "";
        IStorePlace below = place(name);
        IntakePosition? stored = Look(below);
        RecordLog log = RecordLog.OpenForReading(disk, options with { KnownThrough = Known(stored, epochs) });
        return new LogAndStore(disk, log, new ReadingPlace(below, at => epochs.Any(e => e.ToString() == at.Epoch), above), stored, epochs, isForReading: true)
        {
            Name = name,
        };
    }

    /// <summary>The collector's name among those that share a store.</summary>
    internal string Name { get; private init; } = "";

    /// <summary>
    /// Where the log ended when it was opened, if the store stood in a log that is not there or could not say where it stood: how far that one went nobody
    /// knows once the store cannot be read. Null where the store's position says it.
    /// </summary>
    internal V1.LogEnd? Beyond { get; private set; }

    /// <summary>What of the log is gone and nobody has written down yet.</summary>
    /// <param name="isStoreReadable">False once the store that stood there had to be put aside.</param>
    internal IReadOnlyList<V1.IntakeLoss> Losses(bool isStoreReadable)
    {
        _told = Log.LostRanges;
        string[] order = [.. RecordLog.EpochsIn(_disk).Select(e => e.ToString())];
        var losses = new List<V1.IntakeLoss>();
        foreach (LostRange lost in _told)
        {
            // As far as the store had come it had taken them over.
            int here = Array.IndexOf(order, lost.Epoch.ToString());
            int there = Array.IndexOf(order, Stored.Epoch);
            long stored = !isStoreReadable || there < here ? 0 : there > here ? lost.Last : Math.Min(lost.Last, Stored.Sequence);
            if (stored >= lost.First)
            {
                losses.Add(Loss(lost.Epoch.ToString(), lost.First, stored, lost.Reason, inStore: true));
            }

            if (stored < lost.Last)
            {
                losses.Add(Loss(lost.Epoch.ToString(), Math.Max(lost.First, stored + 1), lost.Last, lost.Reason, inStore: false));
            }
        }

        foreach (V1.IntakeLoss gone in _missing)
        {
            V1.IntakeLoss loss = gone.Clone();
            loss.InStore &= isStoreReadable;
            losses.Add(loss);
        }

        return losses;
    }

    /// <summary>Notes that the losses last asked for are written down now.</summary>
    /// <param name="withAside">True when with them it was written down that the store was put aside.</param>
    internal void Written(bool withAside)
    {
        _missing = [];
        Beyond = withAside ? null : Beyond;
        foreach (LostRange lost in _told)
        {
            Log.AcknowledgeLost(lost);
        }
    }

    /// <summary>Where the store stands; nowhere when there is none; null when it cannot be read.</summary>
    private static IntakePosition? Look(IStorePlace place)
    {
        try
        {
            using IRecordStore? store = place.OpenForReading();
            return store?.Applied ?? new IntakePosition("", 0);
        }
        catch (StoreException e) when (e is not StoreUnavailableException)
        {
            return null;
        }
    }

    private static LogPosition? Known(IntakePosition? stored, IReadOnlyList<LogEpoch> epochs) =>
        stored is { } at && epochs.FirstOrDefault(e => e.ToString() == at.Epoch) is var epoch && epoch != default ? new LogPosition(epoch, at.Sequence) : null;

    private static V1.LogEnd End(RecordLog log, IReadOnlyList<LogEpoch> epochs) => epochs.Count == 0
        ? new V1.LogEnd()
        : new V1.LogEnd { LogEpoch = epochs[^1].ToString(), Sequence = (ulong)log.Epochs().FirstOrDefault(e => e.Epoch == epochs[^1]).Last };

    private static V1.IntakeLoss[] Missing(ILogDisk disk, IntakePosition? stored) => stored is { Epoch.Length: > 0 } at
        ? [Loss(at.Epoch, 1, at.Sequence, $"The log that held them is not in {disk.Name}.", inStore: true)]
        : [];

    private static V1.IntakeLoss Loss(string epoch, long first, long last, string reason, bool inStore) => new()
    {
        LogEpoch = epoch, FirstSequence = (ulong)first, LastSequence = (ulong)last, Reason = reason, InStore = inStore,
    };

    private static string MissingText(ILogDisk disk, IReadOnlyList<LogEpoch> epochs, IntakePosition? stored, string store)
    {
        string there = epochs.Count == 0 ? "there is no log in it" : "what lies there is another log";
        return stored is { } at
            ? string.Create(CultureInfo.InvariantCulture, $"The intake log is not in {disk.Name}: {there}, and {store} holds entries up to {at.Sequence} of the log {at.Epoch}.")
            : $"The intake log is not in {disk.Name}: {there}, and {store} cannot be read to see what it held.";
    }
}
