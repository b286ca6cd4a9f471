using System.Globalization;
using Cardassay.Collector.Analysis;
using Cardassay.Identity;
using Cardassay.Registers;
using Cardassay.Trials;

namespace Cardassay.Collector.Tests.Report;

/// <summary>
/// Master data of three boards and several nights from a seed: cards of different speed, one overstated, one with a reason
/// for every kind of set-aside figure, one untagged, one without a claim, one run cut off.
/// </summary>
internal static class SampleData
{
    public static readonly DateTimeOffset FirstEvening = new(2031, 3, 12, 21, 0, 0, TimeSpan.Zero);

    private const string Epoch = "0123456789abcdef0123456789abcdef";
    private static readonly string[] Boards = ["north-mast", "gull-rock", "mill-weir"];
    private static readonly string[] Makers = ["Halvorn", "Quillon", "Ostervane", "Brightmere"];
    private static readonly string[] Products = ["Basalt", "Tern", "Slate", "Pilot"];

    public static MasterData Build(int cards = 8, int nights = 2, int repetitions = 6, int seed = 5, bool invented = true)
    {
        var random = new Random(seed);
        long sequence = 0;
        List<RunRecord> runs = [];
        List<ClaimEntry> claims = [];
        for (int card = 0; card < cards; card++)
        {
            if (Tag(card) is not null && card != 3)
            {
                claims.Add(new ClaimEntry(FirstEvening.AddDays(-9), Claim(card, invented)));
            }
        }

        for (int night = 0; night < nights; night++)
        {
            for (int card = 0; card < cards; card++)
            {
                runs.Add(Run(random, ref sequence, card, night, repetitions, invented));
            }
        }

        return new MasterData
        {
            AsOf = FirstEvening.AddDays(nights - 1).AddHours(9.5),
            Runs = runs,
            Claims = claims,
            Boards = [.. Boards.Select(b => new BoardRecord(b, "Single-board computer", FirstEvening.AddDays(nights - 1).AddHours(9)))],
            HandKept =
            [
                .. new[] { (TrialKind.RandomRead, 2050.0), (TrialKind.RandomWrite, 610.0), (TrialKind.SequentialRead, 71.5), (TrialKind.SequentialWrite, 24.0) }
                    .Select(h => new HandKeptResult { Tag = "T-00", Kind = h.Item1, Value = h.Item2, Provenance = "results.csv line 12" }),
            ],
            Integrity = new IntegrityCounts(sequence, 2, 1),
            IntakeFindings =
            [
                new Finding
                {
                    Id = "record-conflict", Severity = FindingSeverity.Doubt, Text = "Record 17 of gull-rock came with two different contents.",
                    Source = "delivery contract, rule 5", Settles = "Look at both contents with `cardassay-collector status --json`.",
                },
            ],
        };
    }

    private static Claim Claim(int card, bool invented) => new()
    {
        Tag = Tag(card)!,
        Maker = Makers[card % 4],
        Product = Products[card % 4],
        LabelGigabytes = card == 4 ? 128 : 16,
        Marks = ["C10", "U1", "A1"],
        StatedReadMegabytesPerSecond = 90,
        Price = card == 6 ? null : 5.5m + card,
        Currency = "XTS",
        PriceDate = new DateOnly(2031, 2, 1),
        Purchased = new DateOnly(2031, 2, 1),
        BoughtAt = "Harbour Stall",
        Condition = CardCondition.New,
        IsReference = card == 0,
        Invented = invented,
    };

    private static string? Tag(int card) => card == 7 ? null : string.Create(CultureInfo.InvariantCulture, $"T-{card + 1:00}");

    private static RunRecord Run(Random random, ref long sequence, int card, int night, int repetitions, bool invented)
    {
        DateTimeOffset at = FirstEvening.AddDays(night).AddMinutes(20 * card);
        var id = new RunId(new Guid(card, (short)night, 7, [1, 2, 3, 4, 5, 6, 7, 8]));
        string board = Boards[(card + night) % Boards.Length];
        bool cut = card == 5 && night == 1;
        var key = new RecordKey(Epoch, ++sequence);

        // CID of vector V5 (manufacturer 03, SC16G, revision 8.0) with a date and a serial of its own and the checksum stripped.
        string cid = string.Create(CultureInfo.InvariantCulture, $"035344534331364780{0xecf00000 + card:x8}01f101");
        CardIdentified identified = new()
        {
            RunId = id, Identity = cid, IdentityFromRegisters = true, DiskName = "mmcblk0", DiskBytes = 31_116_288L * 512, Attachment = Attachment.Slot,
            Files = new Dictionary<string, Reading<string>>
            {
                ["type"] = Reading<string>.Known("SD"),
                ["cid"] = Reading<string>.Known(cid),

                // Registers of vector V5: 31,116,288 sectors, C10, U1, A1 (public sysfs read-out).
                ["csd"] = Reading<string>.Known("400e00325b59000076b27f800a404013"),
                ["scr"] = Reading<string>.Known("0235804300000000"),
                ["ssr"] = Reading<string>.Known("0000000004000000040090000f051a000000000000010000".PadRight(128, '0')),
            },
        };
        sequence++;
        double speed = 1.3 * Math.Pow(0.86, card);
        List<TrialRecord> trials = [];
        for (int r = 0; r <= repetitions; r++)
        {
            foreach ((TrialKind kind, long block, double perSecond) in Kinds)
            {
                if (cut && r > 2)
                {
                    continue;
                }

                bool invalid = card == 2 && r == 3 && kind == TrialKind.RandomWrite;
                double factor = speed * (r == 0 ? 0.85 : 1) * (1 + 0.03 * (random.NextDouble() - 0.5)) * (card == 1 && r == 2 ? 0.6 : 1);
                trials.Add(new TrialRecord(
                    new RecordKey(Epoch, ++sequence),
                    Trial(random, id, trials.Count, r, kind, block, perSecond * factor, invalid)));
            }
        }

        long written = trials.Where(t => t.Trial.Kind is not (TrialKind.RandomRead or TrialKind.SequentialRead)).Sum(t => t.Trial.Bytes);
        if (!cut)
        {
            sequence++;
        }

        return new RunRecord
        {
            Key = key, Board = board, OpenedAt = at, ReceivedAt = at.AddSeconds(2), Card = identified, Trials = trials,
            Opened = new RunOpened
            {
                RunId = id, Tag = Tag(card), Target = TargetKind.Device, TargetPath = "/dev/mmcblk0", TargetBytes = 31_116_288L * 512, DiskName = "mmcblk0", DiskSequence = 9 + card,
                Attachment = Attachment.Slot, PlanName = "overnight", PlanVersion = "1", PlanText = "{}", Seed = 7, HostName = board, KernelRelease = "6.12.0", BootId = "b",
                AgentVersion = "0.1.0", Invented = invented,
            },
            Closed = cut ? null : new RunClosed { RunId = id, Outcome = RunOutcome.Completed, BytesWritten = written, OdometerBytes = written * (night + 1) },
        };
    }

    private static readonly (TrialKind Kind, long Block, double PerSecond)[] Kinds =
    [
        (TrialKind.SequentialWrite, 1 << 20, 28), (TrialKind.SequentialRead, 1 << 20, 62), (TrialKind.RandomRead, 4096, 2600), (TrialKind.RandomWrite, 4096, 720),
        (TrialKind.SynchronousWrite, 4096, 90),
    ];

    private static TrialMeasured Trial(Random random, RunId run, int index, int repetition, TrialKind kind, long block, double perSecond, bool invalid)
    {
        const int seconds = 12;
        long operations = Math.Max(1, (long)(perSecond * seconds));
        var latency = new LatencyHistogram();
        for (int i = 0; i < 600; i++)
        {
            // Mostly near the mean, now and then a pause thirty times as long.
            double ns = 1e9 / perSecond * (0.7 + 0.6 * random.NextDouble()) * (random.Next(150) == 0 ? 30 : 1);
            latency.AddBucket((long)ns, Math.Max(1, operations / 600));
        }

        Conditions conditions = new()
        {
            BusMode = "sd uhs SDR104", ClockHz = 200_000_000, ActualClockHz = 200_000_000, BusWidthBits = 4, Governor = "performance", UnderVoltage = false, Throttled = false,
            LinkErrors = 0, LoadAverage = 0.2, Temperatures = [new TemperatureReading("cpu", 41_000 + 900 * repetition), new TemperatureReading("board", 35_000)],
        };
        return new TrialMeasured
        {
            RunId = run, Index = index, Repetition = Math.Max(1, repetition), Role = repetition == 0 ? TrialRole.WarmUp : TrialRole.Measured, Kind = kind, BlockBytes = block,
            RangeBytes = 1 << 30, Operations = operations, Bytes = operations * block, ElapsedNs = (long)(operations / perSecond * 1e9), Latency = latency,
            Timeline = [.. Enumerable.Range(0, seconds).Select(s => Second(random, perSecond, block, s))], StallLimitNs = 250_000_000, ContentKnown = true,
            Valid = !invalid, Reasons = invalid ? ["The link erred 12 times during the trial."] : [], Before = conditions, During = [conditions], After = conditions,
        };
    }

    private static TimelineSecond Second(Random random, double perSecond, long block, int second)
    {
        long operations = Math.Max(1, (long)(perSecond * (second < 7 ? 1.2 : 0.72) * (0.96 + 0.08 * random.NextDouble())));
        return new TimelineSecond(operations, operations * block, 4_000_000);
    }
}
