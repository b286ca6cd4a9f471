using Cardassay.Collector.Report.Model;
using Cardassay.Identity;

namespace Cardassay.Collector.Tests.Report;

/// <summary>Reports built from a seed: enough variety that every part of every rendering has something to show.</summary>
internal static class ReportModels
{
    private static readonly string[] Makers = ["Halvorn Basalt", "Quillon Tern", "Ostervane Slate", "Brightmere Pilot"];

    /// <summary>The night on Tarrow: ties, a provisional card, an unranked one, every verdict, invalid and set-aside figures.</summary>
    public static ReportModel Tarrow(int cards = 12, int figures = 12, int seed = 7)
    {
        var random = new Random(seed);
        ReportCard[] all = [.. Enumerable.Range(0, cards).Select(i => Card(random, i, cards, figures))];
        return Empty() with
        {
            Invented = true,
            Night = new NightSummary
            {
                RunsPlanned = cards + 1, RunsBegun = cards, RunsCompleted = cards - 1, RunsMissing = 2, TrialsMeasured = cards * figures * 5, TrialsInvalid = 3,
                Troubles =
                [
                    new Trouble("missing", 1, "T-04", "gull-rock", "The board lost power at 02:14 and the run was not finished."),
                    new Trouble("missing", 1, "T-19", "mill-weir", "The slot was empty when the run was due."),
                    new Trouble("invalid", 3, "T-02", "north-mast", "The link erred 12 times during the trial."),
                ],
            },
            NeedsPerson = [new NeedsPerson("T-03", "Two cards answer to the identity of this one.", "Look at both cards and give the second its own tag.")],
            VerdictChanges = [new VerdictChange("T-05", "not proven", "not as claimed")],
            Integrity = new ReportIntegrity(4812, 0, 1, [Finding("record-conflict", FindingSeverity.Doubt)]),
            RankingStatement = "5 cards on 3 boards, all linked: everything said of their order is true together with 95 %.",
            Cards = all,
            Products = [new ReportProduct("Halvorn Basalt 64 GB", "one specimen", new ReportRank(1, 2, 4, 1, false), "3100 IOPS", "702.5 IOPS", "1 as claimed", "T-01")],
            Price = Prices(all),
            Comparisons =
            [
                new ReportTable(
                    "boards", "Board against card", "How far each board lies from the others, on the cards they share.",
                    [new ReportColumn("Board", false), new ReportColumn("Effect, %", true)], [["north-mast", "+0.8"], ["gull-rock", "-1.1"]])
                {
                    Pictures =
                    [
                        new BoardsPicture("Random read by board", "T-01 differs most.", ["north-mast", "gull-rock"], [new BoardsRow("T-01", [0.8, -0.8]), new BoardsRow("T-02", [0.2, null])]),
                        new WeightsPicture("Ranks under other weights", "T-02 moves most.", 3, [new WeightsRow("T-01", 1, 2, 1, 1), new WeightsRow("T-02", 1, 2, 2, 3), new WeightsRow("T-03", 3, 3, 2, 3)]),
                        new DriftPicture(
                            "Medians night by night", "T-01 falls.",
                            [.. Enumerable.Range(0, 6).Select(l => new DriftLine($"T-{l + 1:00}, random read, north-mast", [.. Enumerable.Range(0, 8).Select(n => new DriftPoint(new DateOnly(2031, 3, 6).AddDays(n), 102 + l - n * (0.4 + 0.1 * l)))]))]),
                    ],
                },
            ],
        };
    }

    /// <summary>A collector that has received nothing yet.</summary>
    public static ReportModel Empty() => new()
    {
        GeneratedFor = "2031-03-14 06:30 UTC",
        Span = "night of 13 to 14 March 2031",
        Profile = "system-disk",
        Method = ["Every figure is a median of repetitions under one set of conditions; n is their number."],
        Cautions = ["A pass is not a guarantee: only what was measured is stated."],
        Night = new NightSummary(),
        Integrity = new ReportIntegrity(0, 0, 0, []),
    };

    public static ReportFinding Finding(string id, FindingSeverity severity) => ReportFinding.From(new Finding
    {
        Id = id,
        Severity = severity,
        Text = "The card stores less than its label says.",
        Values = [new FindingValue("claimed capacity, GB", "64"), new FindingValue("found, GB", "8.0")],
        Source = "common practice, no source",
        Settles = severity == FindingSeverity.Note ? null : "A full capacity proof.",
    });

    public static ReportMetric Metric(Random random, string key, string name, string unit, double level, int figures, bool hand = false)
    {
        double[] values = [.. Enumerable.Range(0, figures).Select(_ => level * (1 + (random.NextDouble() - 0.5) * 0.12))];
        double[] sorted = [.. values.Order()];
        double median = figures % 2 == 1 ? sorted[figures / 2] : (sorted[figures / 2 - 1] + sorted[figures / 2]) / 2;
        int decimals = Figure.DecimalsFor(median);
        List<ReportPoint> points = [new ReportPoint(Figure.Of(level * 0.8, decimals), "north-mast", "2031-03-13 22:10", PointState.WarmUp, "")];
        points.AddRange(values.Select((v, i) => new ReportPoint(
            Figure.Of(v, decimals), i < figures / 2 ? "north-mast" : "gull-rock", i < figures / 2 ? "2031-03-13 22:10" : "2031-03-14 01:40",
            i == 5 ? PointState.Outlier : PointState.Counted, i == 5 ? "far from the others" : "")));
        points.Add(new ReportPoint(Figure.Of(level * 0.5, decimals), "gull-rock", "2031-03-14 01:40", PointState.Invalid, "The link erred 12 times."));
        points.Add(new ReportPoint(Figure.Of(level * 0.97, decimals), "gull-rock", "2031-03-14 01:40", PointState.Closing, ""));
        bool interval = figures >= 7;
        int rank = figures >= 10 ? 1 : 0;
        return new ReportMetric
        {
            Key = key, Name = name, Unit = unit, Series = "4 KiB, depth 1, device, slot, sd uhs SDR104", Median = Figure.Of(median, decimals),
            Low = Figure.Of(sorted[rank], decimals), High = Figure.Of(sorted[^(rank + 1)], decimals), Runs = figures, IsInterval = interval,
            Bounds = figures == 1 ? "single figure" : interval ? "97.85 % interval" : $"range of {figures}", Settled = interval ? "settled" : "not settled, ±6.1 %", HandKept = hand,
            Minimum = Figure.Of(sorted[0], decimals), Maximum = Figure.Of(sorted[^1], decimals), Mad = Figure.Of(median * 0.02, decimals),
            ByRun = figures < 2 ? [] : [Part(1, figures / 2, "2031-03-13 22:10", "north-mast"), Part(figures / 2 + 1, figures, "2031-03-14 01:40", "gull-rock")],
            CvPercent = figures > 1 ? Figure.Of(3.25, 1) : null, Points = points, Changes = figures > 8 ? [6] : [],
            Remarks = figures > 8 ? ["the level changes after figure 6 (p = 0.004)"] : [],
        };

        ReportPart Part(int first, int last, string when, string board)
        {
            double[] own = [.. values.Skip(first - 1).Take(last - first + 1).Order()];
            return new ReportPart(first, last, when, board, Figure.Of(own[own.Length / 2], decimals), Figure.Of(own[0], decimals), Figure.Of(own[^1], decimals), own.Length, own.Length >= 7);
        }
    }

    private static ReportCard Card(Random random, int i, int cards, int figures)
    {
        double speed = Math.Pow(0.3, i / 2 * 2.0 / cards) * (1 + 0.02 * random.NextDouble());
        bool provisional = i == cards - 2, unranked = cards > 2 && i == cards - 1;
        int n = provisional ? 4 : figures;
        int group = i / 2 + 1;
        VerdictKind kind = (VerdictKind)(i % 5);
        return new ReportCard
        {
            Tag = $"T-{i + 1:00}", Identity = $"7348414c5653443634{i:x14}", IdentityFromRegisters = i % 4 != 3, Title = $"T-{i + 1:00}",
            Product = $"{Makers[i % 4]} {16 << (i % 4)} GB", Condition = i % 6 == 5 ? "used" : "new", Price = $"{5 + i}.90 EUR on 2031-02-01", Invented = true,
            VerdictKind = kind, Verdict = new Verdict(kind, []).Words, VerdictMissing = kind == VerdictKind.NotProven ? ["A capacity proof over the whole address range."] : [],
            Rank = unranked ? null : new ReportRank(2 * (i / 2) + 1, Math.Min(Math.Max(1, cards - 1), 2 * (i / 2) + 2), Math.Max(1, cards - 1), group, provisional),
            Composite = unranked ? null : new ReportComposite(Figure.Of(speed * 2, 2), Figure.Of(speed * 1.9, 2), Figure.Of(speed * 2.1, 2), n, n > 6, n > 6 ? "95 % interval of this card alone" : "no interval"),
            Floors = unranked ? "" : speed > 0.7 ? "floors reached" : "floors missed: random write 500 IOPS",
            NotCounted = unranked ? ["Random read, 4 KiB, depth 1: 2 figures (3120, 3088), none counts: it read data nobody had written and verified."] : [],
            Unranked = unranked ? "no random read over known content" : "",
            ClaimLines = [new ClaimLine("Maker", "Halvorn", "manufacturer id 0x73", ""), new ClaimLine("Capacity, GB", "64", i == 4 ? "8.0" : "63.9", i == 4 ? "differs" : "agrees")],
            Findings = kind == VerdictKind.NotAsClaimed ? [Finding("capacity-against-label", FindingSeverity.Contradiction), Finding("date-late", FindingSeverity.Note)]
                : kind == VerdictKind.Doubtful ? [Finding("serial-twice", FindingSeverity.Doubt)] : [],
            Metrics = unranked ? [Metric(random, "sequentialWrite", "Sequential write", "MB/s", 21 * speed, n)] :
            [
                Metric(random, "randomRead", "Random read", "IOPS", 3100 * speed, n), Metric(random, "randomWrite", "Random write", "IOPS", 702 * speed, n),
                Metric(random, "synchronousWrite", "Synchronous write", "IOPS", 88 * speed, n), Metric(random, "sequentialRead", "Sequential read", "MB/s", 87 * speed, n),
                Metric(random, "sequentialWrite", "Sequential write", "MB/s", 31 * speed, n), Metric(random, "sequentialWrite", "Sequential write", "MB/s", 22 * speed, 3),
            ],
            Latencies = [Latency("Random read", 0.31), Latency("Random write", 1.4), Latency("Synchronous write", 11)],
            StallNote = "2 stalls over 250 ms, synchronous write, longest 3608.0 ms",
            Timelines = [new ReportTimeline("Sequential write", "MB/s", [Trace(random, false), Trace(random, true)], "Falls from 41 to 22 MB/s after 12 s.") { Levels = [new TimelineLevel(1, 12, Figure.Of(41.02, 2)), new TimelineLevel(13, 24, Figure.Of(22.1, 2))] }],
            Capacity = i == 4
                ? new CapacityMap(Figure.Of(64.01, 2), "Addresses above 8.0 GB wrap onto lower ones.", [new CapacitySegment(0, 0.125, "kept", "0 to 8.0 GB kept"), new CapacitySegment(0.125, 0.9, "wrapped", "8.0 to 57.6 GB wrapped"), new CapacitySegment(0.9, 1, "not probed", "57.6 to 64.0 GB not probed")])
                : null,
            Runs = [new ReportRun
            {
                When = "2031-03-13 22:10", Board = "north-mast", Plan = "overnight 1", Target = "device, slot", Outcome = "completed", Trials = "35 of 36", Bus = "sd uhs SDR104, 200 MHz",
                Governor = "performance", Temperature = "41.2–55.8", Flags = "none seen", WrittenGigabytes = Figure.Of(12.5, 2),
            }],
            WrittenGigabytes = Figure.Of(25.01, 2),
        };
    }

    private static TimelineTrace Trace(Random random, bool typical) =>
        new(typical, [.. Enumerable.Range(0, 24).Select(s => (s < 12 ? 41.0 : 22) * (0.95 + 0.1 * random.NextDouble()))]);

    private static ReportLatency Latency(string name, double typical)
    {
        LatencyShare[] shares = [.. Enumerable.Range(0, 40).Select(i => new LatencyShare(typical * Math.Pow(1.18, i - 4), Math.Min(1, Math.Pow(10, -i / 9.0))))];
        return new ReportLatency
        {
            Name = name, Operations = 2400,
            Percentiles =
            [
                new LatencyPercentile("p50", Figure.Of(typical, 2)), new LatencyPercentile("p90", Figure.Of(typical * 1.6, 2)),
                new LatencyPercentile("p99", Figure.Of(typical * 9, 2)), new LatencyPercentile("p99.9", null),
            ],
            MaxMs = Figure.Of(shares[^1].Ms, 1), Stalls = 2, StallLimitMs = Figure.Of(250, 0), Shares = shares,
        };
    }

    private static PriceSection? Prices(IReadOnlyList<ReportCard> cards)
    {
        PricePoint[] points =
        [
            .. cards.Where(c => c.Composite is not null).Select((c, i) => new PricePoint(
                c.Title, c.Product, Figure.Of(5.9 + i, 2), Figure.Of(0.12, 3), "2031-02-01", c.Composite!, i < 2, i < 2 ? "" : "T-01")),
        ];
        return points.Length == 0 ? null : new PriceSection("EUR", points, "");
    }
}
