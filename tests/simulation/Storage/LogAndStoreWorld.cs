using Cardassay.Fixtures;
using Cardassay.Identity;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Storage;
using Cardassay.Collector.Storage.Memory;
using Cardassay.Journal;
using Cardassay.Simulation.Tests.Delivery;
using Cardassay.Simulation.Tests.Journal;
using Google.Protobuf;
using Microsoft.Extensions.Logging.Abstractions;

namespace Cardassay.Simulation.Tests.Storage;

/// <summary>
/// One intake log and one database of it in a seeded state: the log damaged, gone, short or ahead, the database damaged, gone, ahead or behind. What
/// each of them still holds is found without the code under test: a record is in the log when its bytes, as they were written, are in a file.
/// </summary>
internal sealed class LogAndStoreWorld
{
    private readonly int _seed;
    private readonly Random _random;
    private readonly Dictionary<RecordKey, (byte[] Frame, byte[] Hash, LogPosition At)> _written = [];
    private readonly SimulatedPlace _place = new();
    private SimulatedDisk _disk = new();
    private int _number;

    internal LogAndStoreWorld(int seed)
    {
        _seed = seed;
        _random = new Random(seed);
    }

    /// <summary>What was done to both, for a message.</summary>
    internal string Case { get; private set; } = "";

    /// <summary>Records that either held and that were in the report; those that were named as lost; those that a rebuild brought back into the log.</summary>
    internal (long Reported, long Named, long Recovered) Figures { get; private set; }

    internal async Task RunAsync()
    {
        Write();
        HashSet<RecordKey> log = InLog();
        HashSet<RecordKey> store = [.. _place.Now?.Held ?? []];
        await ReadAsync(log, store);
        await ServeAsync(log, store);
        await RebuildAsync(log, store);
    }

    private static LogOptions Options(Random random) => new()
    {
        MaxBytes = 0,
        SchemaVersion = 1,
        SegmentBytes = 4096,
        NewEpoch = () => World.Epoch(random),
    };

    /// <summary>A collector's life, with the database and a copy of the log taken at moments of their own, and then the accident.</summary>
    private void Write()
    {
        int entries = _random.Next(1, 60);
        int storedAt = _random.Next(5) == 0 ? 0 : _random.Next(1, entries + 1);
        int loggedAt = _random.Next(3) == 0 ? _random.Next(0, entries + 1) : entries; // short: an older state of the log's files
        SimulatedDisk? copy = loggedAt == 0 ? new SimulatedDisk() : null;
        byte[][] journals = [.. Enumerable.Range(0, _random.Next(1, 4)).Select(_ => World.Epoch(_random).ToBytes())];
        long[] next = new long[journals.Length];
        RecordLog log = RecordLog.Open(_disk, Options(_random));
        for (int i = 1; i <= entries; i++)
        {
            if (_random.Next(15) == 0)
            {
                log.Dispose();
                string newest = _disk.Files.Keys.Max(StringComparer.Ordinal)!;
                _disk.Put(newest, [.. _disk.Files[newest].Cache.ToArray(), 1, 2, 3]); // an unfinished write: the next epoch begins
                log = RecordLog.Open(_disk, Options(_random));
            }

            int journal = _random.Next(journals.Length);
            Append(log, journals[journal], ++next[journal]);
            log.Flush();
            if (i == storedAt)
            {
                var content = new MemoryRecordStore();
                Projected(log, new PlaceOf(() => content));
                _place.Now = new SimulatedPlace.State(content);
            }

            if (i == loggedAt && loggedAt < entries)
            {
                copy = _disk.Copy();
            }
        }

        log.Dispose();
        if (copy is not null)
        {
            _disk = copy;
        }

        Case = $"{entries} entries, stored {storedAt}, logged {loggedAt}, log {DamageLog()}, store {DamageStore()}";
    }

    private void Append(RecordLog log, byte[] journal, long sequence)
    {
        byte[] payload = new byte[_random.Next(5, 400)];
        _random.NextBytes(payload);
        var record = new V1.Record
        {
            Epoch = ByteString.CopyFrom(journal), Sequence = (ulong)sequence, SchemaVersion = 1, BootId = ByteString.CopyFrom(new byte[16]), Payload = ByteString.CopyFrom(payload),
        };
        byte[] entry = IntakeCodec.Encode(new V1.IntakeEntry { ReceivedUnixNs = ++_number, Delivered = new V1.Delivered { Board = "bench", Record = record } });
        long at = log.Append(new LogStamp(_number, _number, Guid.Empty), entry);
        _written[IntakeCodec.KeyOf(record)] = (entry, System.Security.Cryptography.SHA256.HashData(payload), new LogPosition(log.Epoch, at));
    }

    private string DamageLog()
    {
        string[] names = [.. _disk.Files.Keys.Where(n => n.EndsWith(".cardlog", StringComparison.Ordinal)).Order(StringComparer.Ordinal)];
        int what = names.Length == 0 ? 0 : _random.Next(8);
        switch (what)
        {
            case 1:
            case 2: // bits and stretches turned over
                string name = names[_random.Next(names.Length)];
                byte[] bytes = _disk.Files[name].Cache.ToArray();
                for (int i = _random.Next(1, 4); i > 0; i--)
                {
                    int at = _random.Next(bytes.Length);
                    for (int j = at; j < Math.Min(bytes.Length, at + (what == 1 ? 1 : _random.Next(1, 900))); j++)
                    {
                        bytes[j] ^= (byte)(1 << _random.Next(8));
                    }
                }

                _disk.Put(name, bytes);
                return "damaged";
            case 3: // gone altogether
                foreach (string each in names)
                {
                    _disk.Delete(each);
                }

                return "gone";
            case 4: // one file gone
                _disk.Delete(names[_random.Next(names.Length)]);
                return "a segment gone";
            case 5: // cut somewhere
                byte[] whole = _disk.Files[names[^1]].Cache.ToArray();
                _disk.Put(names[^1], whole[.._random.Next(whole.Length)]);
                return "cut";
            default:
                return "whole";
        }
    }

    private string DamageStore()
    {
        switch (_place.Now is null ? 0 : _random.Next(7))
        {
            case 1:
                _place.Now = null;
                return "gone";
            case 2:
                _place.Now!.CannotBeOpened = true;
                return "no database";
            case 3:
                int readable = _random.Next((int)_place.Now!.Content.Count().Records);
                _place.Now.Gone = _place.Now.Content.Records().ElementAt(readable).Key;
                return $"readable up to {readable}";
            default:
                return _place.Now is null ? "none" : "whole";
        }
    }

    private HashSet<RecordKey> InLog()
    {
        byte[][] files = [.. _disk.Files.Where(f => f.Key.Contains(".cardlog", StringComparison.Ordinal)).Select(f => f.Value.Cache.ToArray())];
        byte[] Whole((byte[] Frame, byte[] Hash, LogPosition At) w)
        {
            byte[] record = new byte[RecordFormat.SizeOf(w.Frame.Length)];
            LogStamp stamp = new(Stamp(w), Stamp(w), Guid.Empty);
            RecordFormat.Encode(record, new RecordHead(w.Frame.Length, 1, w.At.Epoch, w.At.Sequence, stamp), w.Frame);
            return record;
        }

        static long Stamp((byte[] Frame, byte[] Hash, LogPosition At) w) => V1.IntakeEntry.Parser.ParseFrom(w.Frame).ReceivedUnixNs;
        return [.. _written.Where(w => files.Any(f => f.AsSpan().IndexOf(Whole(w.Value)) >= 0)).Select(w => w.Key)];
    }

    /// <summary>A command that only reads: all that either holds is there or named, and not a byte is touched.</summary>
    private async Task ReadAsync(HashSet<RecordKey> log, HashSet<RecordKey> store)
    {
        Dictionary<string, byte[]> before = Bytes();
        int changes = _place.Changes;
        await WithAsync(LogAndStore.OpenForReading(_disk, _ => _place, null, Options(_random), () => new MemoryRecordStore()), (look, _, _) => CheckAsync(look, log, store, "read"));
        Require(before.Count == _disk.Files.Count && before.All(f => _disk.Files[f.Key].Cache.SequenceEqual(f.Value)), "reading changed the log's files");
        Require(changes == _place.Changes, "reading changed the database");
    }

    /// <summary>`serve`: it refuses without touching anything, or goes on with all that either holds, and what it takes in then is there afterwards.</summary>
    private async Task ServeAsync(HashSet<RecordKey> log, HashSet<RecordKey> store)
    {
        Dictionary<string, byte[]> before = Bytes();
        int changes = _place.Changes;
        LogAndStore data;
        try
        {
            data = LogAndStore.OpenForWriting(() => _disk, _disk, _ => _place, null, Options(_random));
        }
        catch (LogMissingException)
        {
            Require(before.Count == _disk.Files.Count && before.All(f => _disk.Files[f.Key].Cache.SequenceEqual(f.Value)) && changes == _place.Changes, "a refusal changed something");
            return;
        }

        byte[] journal = World.Epoch(_random).ToBytes();
        await WithAsync(data, async (look, desk, _) =>
        {
            await CheckAsync(look, log, store, "serve");
            for (int i = 1; i <= 3; i++)
            {
                var record = new V1.Record
                {
                    Epoch = ByteString.CopyFrom(journal), Sequence = (ulong)i, SchemaVersion = 1, BootId = ByteString.CopyFrom(new byte[16]), Payload = ByteString.CopyFrom([1, (byte)i]),
                };
                byte[] entry = IntakeCodec.Encode(new V1.IntakeEntry { ReceivedUnixNs = ++_number, Delivered = new V1.Delivered { Board = "bench", Record = record } });
                IntakeAnswer answer = await desk.AcceptAsync("bench", new V1.Records { Records_ = { record.ToByteString() } }.ToByteArray(), 0, CancellationToken.None);
                Require(answer.Marks.Single().Through == i, "a new record has no receipt");
                log.Add(IntakeCodec.KeyOf(record));
                _written[IntakeCodec.KeyOf(record)] = (entry, System.Security.Cryptography.SHA256.HashData(record.Payload.Span), default);
            }

            look.CatchUp();
            await CheckAsync(look, log, store, "serve, with new records");
        });
        await WithAsync(LogAndStore.OpenForReading(_disk, _ => _place, null, Options(_random), () => new MemoryRecordStore()), (look, _, _) => CheckAsync(look, log, store, "read again"));
    }

    /// <summary>`rebuild`: afterwards the log alone holds all that could be read, and the database may go.</summary>
    private async Task RebuildAsync(HashSet<RecordKey> log, HashSet<RecordKey> store)
    {
        V1.Rebuilt? answer = null;
        await WithAsync(LogAndStore.OpenForWriting(() => _disk, _disk, _ => _place, null, Options(_random), mayBeginAnew: true), async (look, desk, losses) =>
        {
            var rebuilder = new Rebuilder(losses, desk, look, _ => new PlaceOf(Remembered()), null);
            answer = await rebuilder.RunAsync(new V1.RebuildRequest(), CancellationToken.None);
        });
        _place.Delete();
        await WithAsync(LogAndStore.OpenForReading(_disk, _ => _place, null, Options(_random), () => new MemoryRecordStore()), (look, _, _) =>
        {
            HashSet<RecordKey> there = [.. look.Read(s => s.Records().Select(r => r.Key).ToList())];
            RecordKey[] missing = [.. log.Union(store).Except(there)];
            Require(missing.Length == 0, $"after a rebuild the log lacks {string.Join(' ', missing)}");
            Require(Losses.Of(look.Read(s => s.Events())).OnlyStored == 0, "after a rebuild something is only in the database");
            Require(look.Read(s => s.Count()).Conflicts == 0, "a rebuild made a conflict");
            return Task.CompletedTask;
        });
        Figures = (Figures.Reported, Figures.Named, (long)answer!.ExtraRecords);
    }

    private async Task CheckAsync(Projection look, HashSet<RecordKey> log, HashSet<RecordKey> store, string when)
    {
        List<StoredRecord> records = await look.ReadCaughtUpAsync(s => s.Records().ToList(), CancellationToken.None);
        foreach (StoredRecord record in records)
        {
            Require(_written.TryGetValue(record.Key, out var w) && w.Hash.AsSpan().SequenceEqual(record.Hash), $"{when}: {record.Key} was never written so");
        }

        HashSet<RecordKey> there = [.. records.Select(r => r.Key)];
        Require(there.Count == records.Count, $"{when}: a record is there twice");
        Require(look.Read(s => s.Count()).Conflicts == 0, $"{when}: a record conflicts with itself");
        var losses = Losses.Of(look.Read(s => s.Events()));
        V1.IntakeLoss[] named = [.. losses.Open];
        Finding? aside = losses.Findings().FirstOrDefault(f => f.Id == "database-set-aside");
        foreach (RecordKey key in log.Union(store).Except(there))
        {
            LogPosition at = _written[key].At;
            Require(!log.Contains(key), $"{when}: {key} is in the log and not in the report");
            Require(
                named.Any(l => !l.InStore && l.LogEpoch == at.Epoch.ToString() && (long)l.FirstSequence <= at.Sequence && at.Sequence <= (long)l.LastSequence)
                    || (aside is not null && IsSaidToBeUnknown(aside, at)),
                $"{when}: {key} was in the database, is not in the report, and is not named as lost");
            Figures = Figures with { Named = Figures.Named + 1 };
        }

        foreach (V1.IntakeLoss loss in named.Where(l => !l.InStore))
        {
            Require(!log.Any(k => _written[k].At is var at && at.Epoch.ToString() == loss.LogEpoch && (long)loss.FirstSequence <= at.Sequence && at.Sequence <= (long)loss.LastSequence),
                $"{when}: what the log holds is called lost");
        }

        Figures = Figures with { Reported = Figures.Reported + there.Count };
    }

    /// <summary>True for an entry behind the one that a finding calls the last of which anything is known, or of a log of which no file is there.</summary>
    private bool IsSaidToBeUnknown(Finding aside, LogPosition at)
    {
        string last = aside.Values.SingleOrDefault(v => v.Name == "last entry known").Value ?? "";
        return aside.Text.Contains("nobody can say", StringComparison.Ordinal)
            && (last == "" || (last.Split(' ') is [var number, "of", "the", "log", var epoch] && epoch == at.Epoch.ToString()
                ? at.Sequence > long.Parse(number, System.Globalization.CultureInfo.InvariantCulture)
                : !RecordLog.EpochsIn(_disk).Contains(at.Epoch)));
    }

    private async Task WithAsync(LogAndStore data, Func<Projection, IntakeDesk, LossBook, Task> work)
    {
        using RecordLog log = data.Log;
        await using var look = new Projection(log, data.Place, NullLogger.Instance, TimeProvider.System);
        look.CatchUp();
        await using var commit = new GroupCommit(log);
        var desk = new IntakeDesk(log, commit, look, TimeProvider.System, Guid.Empty);
        using var losses = new LossBook(data, desk, look);
        look.WriteDown = losses.WriteDownAsync;
        await losses.WriteDownAsync(CancellationToken.None);
        look.CatchUp();
        look.Start();
        try
        {
            await work(look, desk, losses);
        }
        finally
        {
            await losses.WriteDownAsync(CancellationToken.None); // what a reading came upon
            (data.Place as IDisposable)?.Dispose();
        }
    }

    private Dictionary<string, byte[]> Bytes() => _disk.Files.ToDictionary(f => f.Key, f => f.Value.Cache.ToArray());

    private static Func<IRecordStore> Remembered()
    {
        var store = new MemoryRecordStore();
        return () => store;
    }

    private static void Projected(RecordLog log, IStorePlace place)
    {
        var projection = new Projection(log, place, NullLogger.Instance, TimeProvider.System);
        projection.CatchUp(); // left open: the store is memory
    }

    private void Require(bool condition, string what)
    {
        if (!condition)
        {
            throw new InvalidOperationException($"seed {_seed} ({Case}): {what}");
        }
    }
}
