using Cardassay.Collector.Analysis;
using Cardassay.Fixtures;
using Cardassay.Registers;
using Cardassay.Trials;
using Cardassay.Wire;
using Google.Protobuf;

namespace Cardassay.Simulation.Tests.Storage;

/// <summary>What the boards of a made-up laboratory journal, with everything in it that a journal may hold, in the order in which it reaches a collector.</summary>
internal sealed class RandomJournals(Random random)
{
    internal const string Boot = "0b7e6a52-3c1d-4f0a-9a6e-5d2c1b0a9f8e";

    private long _wallUnixNs = 1_772_400_000_000_000_000;

    /// <summary>The delivered records, some of them long after those that followed them in their journal.</summary>
    internal List<V1.IntakeEntry> Entries()
    {
        MasterData made = new SyntheticLaboratory
        {
            Seed = random.Next(), Cards = random.Next(1, 4), Boards = random.Next(1, 4), RunsPerCard = random.Next(1, 6), RunsPerNight = 2, Touch = (_, trial) => Touched(trial),
        }.Build();
        var journals = made.Runs.GroupBy(r => r.Board).Select(board => new Queue<V1.IntakeEntry>(Journal(board.Key, [.. board]))).ToList();
        var entries = new List<V1.IntakeEntry>();
        var late = new List<V1.IntakeEntry>();
        while (journals.Count > 0)
        {
            Queue<V1.IntakeEntry> journal = journals[random.Next(journals.Count)];
            for (int some = random.Next(1, 12); some > 0 && journal.Count > 0; some--)
            {
                (random.Next(40) == 0 ? late : entries).Add(journal.Dequeue());
            }

            if (late.Count > 0 && random.Next(6) == 0)
            {
                entries.AddRange(late);
                late.Clear();
            }

            journals.RemoveAll(j => j.Count == 0);
        }

        return [.. entries, .. late];
    }

    private IEnumerable<V1.IntakeEntry> Journal(string board, RunRecord[] runs)
    {
        byte[] epoch = new byte[16];
        random.NextBytes(epoch);
        string origin = random.Next(3) == 0 ? "attic" : "";
        List<byte[]>[] open = [[], []]; // two slots that are measured at once
        foreach (RunRecord run in runs)
        {
            open[random.Next(2)].AddRange(Payloads(run));
        }

        ulong sequence = 0;
        while (open.Any(slot => slot.Count > 0))
        {
            List<byte[]> slot = open[random.Next(2)];
            if (slot.Count > 0)
            {
                yield return Delivered(board, origin, epoch, ++sequence, slot[0]);
                slot.RemoveAt(0);
            }
        }
    }

    private V1.IntakeEntry Delivered(string board, string origin, byte[] epoch, ulong sequence, byte[] payload)
    {
        _wallUnixNs += random.NextInt64(7_200_000_000_000);
        return new V1.IntakeEntry
        {
            ReceivedUnixNs = _wallUnixNs + random.NextInt64(3_600_000_000_000),
            Delivered = new V1.Delivered
            {
                Board = board, Origin = origin, ClockOffsetNs = random.Next(5) * 1_000_000,
                Record = new V1.Record
                {
                    Epoch = ByteString.CopyFrom(epoch), Sequence = sequence, SchemaVersion = 1, BootId = ByteString.CopyFrom(new byte[16]),
                    WallUnixNs = _wallUnixNs, Payload = ByteString.CopyFrom(payload),
                },
            },
        };
    }

    /// <summary>The records of a run; some lack their beginning or their end.</summary>
    private IEnumerable<byte[]> Payloads(RunRecord run)
    {
        RunOpened opened = run.Opened with
        {
            Tag = random.Next(4) == 0 ? null : run.Opened.Tag, BootId = Boot, DiskName = "mmcblk1", DiskSequence = random.Next(1, 4), PlanText = "{}", BoardModel = random.Next(2) == 0 ? null : "A board",
        };
        Observation?[] first = [random.Next(12) == 0 ? null : opened, random.Next(8) == 0 ? null : Card(run)];
        IEnumerable<Observation?> between = run.Trials.SelectMany(t => Parts(t.Trial)).SelectMany(t => random.Next(3) == 0 ? [Sample(run.Opened.RunId), t] : (Observation[])[t]);
        Observation?[] last = [.. random.Next(5) == 0 ? Proofs(run.Opened.RunId) : [], random.Next(6) == 0 ? null : run.Closed];
        foreach (Observation observation in first.Concat(between).Concat(last).OfType<Observation>())
        {
            byte[] payload = ObservationCodec.Encode(observation);
            yield return payload;
            switch (random.Next(60))
            {
                case 0: // the middle of a record is no record
                    yield return payload[..(payload.Length / 2)];
                    break;
                case 1: // of a later version
                    yield return [0x7a, 1, 1];
                    break;
                case 2:
                    yield return ObservationCodec.Encode(new RangeLost { Epoch = new string('e', 32), FirstSequence = 1, LastSequence = random.Next(1, 9), Reason = "torn" });
                    break;
                case 3: // a name of a run that is none
                    yield return new V1.Observation { RunClosed = new V1.RunClosed { RunId = ByteString.CopyFrom(1, 2, 3) } }.ToByteArray();
                    break;
                default:
                    break;
            }
        }
    }

    private static CardIdentified Card(RunRecord run) => run.Card! with
    {
        Files = new Dictionary<string, Reading<string>> { ["cid"] = Reading<string>.Known("00"), ["csd"] = Reading<string>.Unreadable("busy") },
    };

    private IEnumerable<TrialMeasured> Parts(TrialMeasured trial) => random.Next(6) == 0
        ? [trial with { Part = 1 }, Touched(trial) with { Part = 2 }, Touched(trial) with { Part = 3 }]
        : [trial];

    private IEnumerable<ProofMeasured> Proofs(RunId run) => Enumerable.Range(1, 3).Select(part => new ProofMeasured
    {
        RunId = run, Index = 9, Part = part, Complete = part == 3, Kind = ProofKind.Sparse, ClaimedBytes = 64_000_000_000, CoveredBytes = 64_000_000_000,
        Finding = ProofFinding.NoneFound, BlocksWritten = 100 * part, BlocksRead = 90 * part,
    });

    private ConditionsSampled Sample(RunId run) => new() { RunId = run, Conditions = Conditions(random.Next(9), random.Next(9_000)) };

    private TrialMeasured Touched(TrialMeasured trial)
    {
        var latency = new LatencyHistogram();
        var reads = new LatencyHistogram();
        for (int i = 0; i < 20; i++)
        {
            long ns = (long)Math.Exp(9 + (random.NextDouble() * 9));
            latency.Record(ns);
            if (i % 2 == 0)
            {
                reads.Record(ns);
            }
        }

        long errors = random.Next(100), sectors = random.NextInt64(1L << 40);
        int stalls = random.Next(30) == 0 ? 30 : random.Next(3);
        return trial with
        {
            Latency = latency,
            ReadLatency = random.Next(4) == 0 ? reads : null,
            Timeline = [.. Enumerable.Range(0, random.Next(12)).Select(_ => new TimelineSecond(random.Next(5_000), random.NextInt64(1L << 33), random.NextInt64(1L << 33)))],
            Stalls = [.. Enumerable.Range(0, stalls).Select(_ => new Stall(random.Next(), random.Next(), 300_000_000 + random.Next(1_000_000_000), random.Next(2) == 0))],
            StallCount = stalls,
            StallLimitNs = 250_000_000,
            Valid = random.Next(10) != 0,
            ContentKnown = random.Next(8) != 0,
            Reasons = random.Next(6) == 0 ? ["The load average was high."] : [],
            FilledBytes = random.Next(3) == 0 ? random.NextInt64(1L << 36) : null,
            Before = Conditions(errors, sectors),
            During = [.. Enumerable.Range(0, random.Next(4)).Select(_ => Conditions(errors, sectors))],
            After = Conditions(errors + (random.Next(8) == 0 ? 2 : 0), sectors + (trial.Bytes / 512) + random.Next(random.Next(4) == 0 ? 4_000_000 : 100)),
        };
    }

    private Conditions Conditions(long errors, long sectors) => new()
    {
        BusMode = random.Next(9) == 0 ? null : "sd uhs SDR50",
        ClockHz = 50_000_000,
        BusWidthBits = 4,
        Governor = random.Next(2) == 0 ? "performance" : null,
        LinkErrors = random.Next(9) == 0 ? null : errors,
        Temperatures = [.. Enumerable.Range(0, random.Next(3)).Select(i => new TemperatureReading($"sensor {i}", random.Next(30_000, 70_000)))],
        UnderVoltage = random.Next(20) == 0,
        Throttled = random.Next(20) == 0 ? true : null,
        LoadAverage = random.NextDouble(),
        SectorsRead = sectors,
        SectorsWritten = sectors / 2,
        ReadsCompleted = random.Next(5) == 0 ? null : sectors / 8,
        WritesCompleted = sectors / 16,
    };
}
