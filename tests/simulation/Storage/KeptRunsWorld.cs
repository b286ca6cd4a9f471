using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Exchange.Tables;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Report;
using Cardassay.Collector.Storage;
using Cardassay.Collector.Storage.Memory;
using Cardassay.Fixtures;
using Cardassay.Journal;
using Cardassay.Simulation.Tests.Delivery;
using Cardassay.Simulation.Tests.Journal;
using Google.Protobuf;
using Microsoft.Extensions.Logging.Abstractions;

namespace Cardassay.Simulation.Tests.Storage;

/// <summary>One collector's life with a made-up laboratory: whenever it is asked, its report must be the one that the records alone give.</summary>
internal sealed class KeptRunsWorld(int seed)
{
    private readonly Random _random = new(seed);
    private readonly SimulatedDisk _disk = new();
    private readonly MemoryRecordStore _store = new();
    private long _nowUnixNs = 1_772_500_000_000_000_000;

    /// <summary>Reports held against each other, and runs that were kept when they were made.</summary>
    internal (long Reports, long Kept) Figures { get; private set; }

    internal async Task RunAsync()
    {
        List<V1.IntakeEntry> entries = new RandomJournals(_random).Entries();
        for (int next = 0; next < entries.Count;)
        {
            int restart = next + _random.Next(1, entries.Count + 1);
            next = await LiveAsync(entries, next, Math.Min(restart, entries.Count));
            await ReadOnlyAsync();
        }
    }

    /// <summary>A process, which may end when the store has not yet what the log has.</summary>
    private async Task<int> LiveAsync(List<V1.IntakeEntry> entries, int next, int end)
    {
        using RecordLog log = RecordLog.Open(_disk, Options());
        await using var projection = new Projection(log, new PlaceOf(() => _store), NullLogger.Instance, TimeProvider.System);
        projection.CatchUp();
        while (next < end)
        {
            for (int some = _random.Next(1, 30); some > 0 && next < entries.Count; some--)
            {
                Append(log, entries[next++]);
                if (_random.Next(12) == 0)
                {
                    Append(log, Said());
                }
            }

            log.Flush();
            if (next < end || _random.Next(2) == 0)
            {
                Step(projection);
            }
        }

        return next;
    }

    private LogOptions Options() => new() { MaxBytes = 0, SchemaVersion = 1, SegmentBytes = 1 << 20, NewEpoch = () => World.Epoch(_random) };

    private void Append(RecordLog log, V1.IntakeEntry entry) => log.Append(new LogStamp(1, 1, Guid.Empty), IntakeCodec.Encode(entry));

    private void Step(Projection projection)
    {
        projection.CatchUp();
        if (_random.Next(2) == 0)
        {
            projection.KeepRuns();
        }

        if (_random.Next(4) == 0)
        {
            Spoil();
        }

        if (_random.Next(2) == 0)
        {
            Compare(projection.Read(s => projection.Load(s)), "of the collector");
        }
    }

    /// <summary>What a crash, another version or a fault of the disk may leave: rows that are not what this version makes of the records.</summary>
    private void Spoil()
    {
        StoredRun[] runs = [.. _store.Runs.All(RunKeeping.Version)];
        if (runs.Length == 0)
        {
            return;
        }

        StoredRun run = runs[_random.Next(runs.Length)], other = runs[_random.Next(runs.Length)];
        switch (_random.Next(3))
        {
            case 0: // of an older or newer version, which makes another figure of the same records
                V1.KeptRun otherwise = V1.KeptRun.Parser.ParseFrom(RunKeeping.Made(_store.Runs, run).Kept);
                V1.KeptFigures figures = V1.KeptFigures.Parser.ParseFrom(otherwise.Figures);
                for (int i = 0; i < figures.Value.Count; i++)
                {
                    figures.Value[i] *= 2;
                }

                otherwise.Figures = figures.ToByteString();
                _store.Runs.Keep([run with { Kept = otherwise.ToByteArray() }], RunKeeping.Version + (_random.Next(2) == 0 ? -1 : 1));
                break;
            case 2 when other.Key != run.Key: // another run's
                _store.Runs.Keep([run with { Kept = RunKeeping.Made(_store.Runs, other).Kept }], RunKeeping.Version);
                break;
            default: // no message
                _store.Runs.Keep([run with { Kept = [0xff, 0xff, 0xff] }], RunKeeping.Version);
                break;
        }
    }

    /// <summary>A command that only reads: what the log holds beyond the store lies over it.</summary>
    private async Task ReadOnlyAsync()
    {
        var data = LogAndStore.OpenForReading(_disk, _ => new PlaceOf(() => _store), null, Options(), () => new MemoryRecordStore());
        using RecordLog log = data.Log;
        await using var projection = new Projection(log, data.Place, NullLogger.Instance, TimeProvider.System);
        projection.CatchUp();
        (MasterData kept, MasterData plain) = projection.Read(s => (MasterDataLoader.Load(s), MasterDataLoader.Load(new WithoutRuns(s))));
        Compare(kept, plain, "of a command that reads");
        (data.Place as IDisposable)?.Dispose();
    }

    private V1.IntakeEntry Said()
    {
        string tag = SyntheticLaboratory.Tag(_random.Next(4));
        var said = _random.Next(5) switch
        {
            0 => new V1.OperatorEvent { Regarded = new V1.CollectorRegarded { Collector = "attic", TakenBack = _random.Next(2) == 0, SameStickers = _random.Next(2) == 0 } },
            1 => new V1.OperatorEvent { Claim = new V1.Claim { Tag = tag, Maker = "Halvorn", Product = $"Terrace {_random.Next(2)}", LabelGigabytes = "64" } },
            2 => new V1.OperatorEvent { SameCard = new V1.SameCard { Tag = tag, Other = tag + "@attic", Apart = _random.Next(2) == 0 } },
            _ => new V1.OperatorEvent
            {
                TagGiven = new V1.TagGiven
                {
                    Tag = tag, Board = SyntheticLaboratory.Board(_random.Next(3)), DiskName = "mmcblk1", DiskSequence = _random.Next(1, 4),
                    BootId = ByteString.CopyFrom(Guid.Parse(RandomJournals.Boot).ToByteArray(bigEndian: true)),
                },
            },
        };
        return new V1.IntakeEntry { ReceivedUnixNs = ++_nowUnixNs, OperatorEvent = said };
    }

    private void Compare(MasterData kept, string what) => Compare(kept, MasterDataLoader.Load(new WithoutRuns(_store)), what);

    private void Compare(MasterData kept, MasterData plain, string what)
    {
        Figures = (Figures.Reports + 1, Figures.Kept + _store.Runs.All(RunKeeping.Version).Count(r => RunKeeping.Read(r) is not null));
        Assert.True(Report(plain) == Report(kept), $"seed {seed}: the report {what} is not that of the records");
        Assert.True(Tables(plain) == Tables(kept), $"seed {seed}: a table {what} is not that of the records");
    }

    private static string Report(MasterData data)
    {
        AnalysisResult analysis = Analyser.Run(data, UseProfile.SystemDisk);
        return JsonReport.Render(ReportBuilder.Build(data, analysis, CardStandings.Of(data, analysis), ReportNight.Latest(analysis)));
    }

    private static string Tables(MasterData data) => string.Concat(ExportTable.All(data).Select(table =>
    {
        using var text = new MemoryStream();
        ExportCsv.Write(text, table);
        return Convert.ToHexString(text.ToArray());
    }));
}
