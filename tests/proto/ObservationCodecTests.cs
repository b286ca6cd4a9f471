using Cardassay.Registers;
using Cardassay.Trials;
using Cardassay.Wire;

namespace Cardassay.Proto.Tests;

public sealed class ObservationCodecTests
{
    private static readonly RunId Run = new(new Guid("00112233-4455-6677-8899-aabbccddeeff"));

    public static TheoryData<string> Names => new(Samples.Select(s => s.GetType().Name));

    private static IReadOnlyList<Observation> Samples =>
    [
        new RunOpened
        {
            RunId = Run, Tag = "T-07", Target = TargetKind.Device, TargetPath = "/dev/mmcblk0", TargetBytes = 7_948_206_080,
            DiskName = "mmcblk0", DiskSequence = 9, Attachment = Attachment.Slot, PlanName = "first-look", PlanVersion = "1",
            PlanText = "{}", Seed = ulong.MaxValue, PlannedWriteBytes = 1 << 30, HostName = "board-1", BoardModel = null,
            KernelRelease = "6.1.0", BootId = "b", AgentVersion = "0.1.0", JournalOnCard = true, Invented = true,
        },
        new CardIdentified
        {
            RunId = Run, Identity = "x", IdentityFromRegisters = true, DiskName = "mmcblk0", DiskBytes = 0, Attachment = Attachment.Slot,
            Files = new Dictionary<string, Reading<string>>
            {
                ["cid"] = Reading<string>.Known(""),
                ["ssr"] = Reading<string>.Unreadable("input/output error"),
            },
        },
        SampleTrial(),
        new ConditionsSampled { RunId = Run, Conditions = SampleConditions() },
        new RunClosed { RunId = Run, Outcome = RunOutcome.Interrupted, Reason = "The card was pulled.", BytesWritten = 5, OdometerBytes = 6 },
        new RangeLost { Epoch = "000102030405060708090a0b0c0d0e0f", FirstSequence = 3, LastSequence = 9, Reason = "torn" },
        ProofSamples.Full(Run),
    ];

    [Theory]
    [MemberData(nameof(Names))]
    public void EncodeDecode_EverySample_GivesTheSameBytesAgain(string name)
    {
        Observation sample = Samples.Single(s => s.GetType().Name == name);
        byte[] bytes = ObservationCodec.Encode(sample);
        Observation? back = ObservationCodec.Decode(bytes);
        Assert.NotNull(back);
        Assert.Equal(sample.GetType(), back.GetType());
        Assert.Equal(bytes, ObservationCodec.Encode(back));

        // Outside check: the general parser of Google.Protobuf, which reads all of it to know what it is.
        Assert.Equal(V1.Observation.Parser.ParseFrom(bytes).KindCase, ObservationCodec.KindOf(bytes));
    }

    [Theory]
    [InlineData(new byte[0])]
    [InlineData(new byte[] { 2 })] // field 0
    [InlineData(new byte[] { (6 << 3) | 0, 1 })] // a number where a message belongs
    [InlineData(new byte[] { 0xFA, 0x01, 0 })] // field 31, of a later version
    public void KindOf_WhatIsNoObservation_IsNone(byte[] payload) => Assert.Equal(V1.Observation.KindOneofCase.None, ObservationCodec.KindOf(payload));

    [Fact]
    public void Decode_Trial_KeepsEveryMember()
    {
        TrialMeasured sample = SampleTrial();
        var back = Assert.IsType<TrialMeasured>(ObservationCodec.Decode(ObservationCodec.Encode(sample)));

        // Members that are lists or histograms compare by content; everything else by record equality.
        Assert.Equal(sample.Latency.Buckets(), back.Latency.Buckets());
        Assert.Equal(sample.ReadLatency!.Buckets(), back.ReadLatency!.Buckets());
        Assert.Equal(sample.UnitNs, back.UnitNs);
        Assert.Equal(sample.Timeline, back.Timeline);
        Assert.Equal(sample.Stalls, back.Stalls);
        Assert.Equal(sample.Reasons, back.Reasons);
        Assert.Equal(sample.Before.Temperatures, back.Before.Temperatures);
        Assert.Equal(sample.Before.Unreadable, back.Before.Unreadable);
        Assert.Equal(
            sample with { Latency = back.Latency, ReadLatency = back.ReadLatency, UnitNs = back.UnitNs, Timeline = back.Timeline, Stalls = back.Stalls, Reasons = back.Reasons, Before = back.Before, During = back.During, After = back.After },
            back);
        Assert.Equal(
            sample.Before with { Temperatures = back.Before.Temperatures, Unreadable = back.Before.Unreadable },
            back.Before);
    }

    [Fact]
    public void Decode_MissingUnreadableAndEmptyFiles_StayThreeThings()
    {
        var back = (CardIdentified)ObservationCodec.Decode(ObservationCodec.Encode(Samples[1]))!;
        Assert.Equal(Reading<string>.Known(""), back.Files["cid"]);
        Assert.Equal(Reading<string>.Unreadable("input/output error"), back.Files["ssr"]);
        Assert.False(back.Files.ContainsKey("scr"));
    }

    // Bytes written by hand from the message definition: run_id (field 1), kind 11 (field 5), segment_bytes (28), standard (30), units (31) and
    // slowest_unit_ns (32). They are kept for years and must always decode.
    [Fact]
    public void Decode_ClassTrial_ReadsTheGoldenBytes()
    {
        byte[] golden = Convert.FromHexString(
            "1A27" + "0A10" + "00112233445566778899AABBCCDDEEFF" + "280B" + "E00180808002" + "F00103" + "F80105" + "80028094EBDC03");
        var trial = Assert.IsType<TrialMeasured>(ObservationCodec.Decode(golden));
        Assert.Equal((TrialKind.ClassWrite, ClassStandard.VideoClass, 4L << 20, 5L, 1_000_000_000L), (trial.Kind, trial.Standard, trial.SegmentBytes, trial.Units, trial.SlowestUnitNs));
        Assert.Equal(4.194304, trial.SlowestUnitBytesPerSecond / 1e6, 9);
    }

    [Fact]
    public void Decode_NullConditions_StayNullAndZeroStaysZero()
    {
        var back = (ConditionsSampled)ObservationCodec.Decode(ObservationCodec.Encode(
            new ConditionsSampled { RunId = Run, Conditions = new Conditions { LinkErrors = 0 } }))!;
        Assert.Equal(0, back.Conditions.LinkErrors);
        Assert.Null(back.Conditions.CpuKHz);
        Assert.Null(back.Conditions.UnderVoltage);
    }

    [Fact]
    public void Decode_RandomBytes_NeverThrowsAnythingElse()
    {
        var random = new Random(20260301);
        byte[] seed = ObservationCodec.Encode(SampleTrial());
        int refused = 0;
        for (int i = 0; i < 50_000; i++)
        {
            byte[] bytes = i % 2 == 0 ? new byte[random.Next(200)] : (byte[])seed.Clone();
            if (i % 2 == 0)
            {
                random.NextBytes(bytes);
            }
            else
            {
                for (int k = random.Next(1, 6); k > 0; k--)
                {
                    bytes[random.Next(bytes.Length)] = (byte)random.Next(256);
                }
            }

            try
            {
                _ = ObservationCodec.Decode(bytes);
            }
            catch (WireFormatException)
            {
                refused++;
            }
        }

        Assert.InRange(refused, 1, 50_000);
    }

    [Fact]
    public void Decode_UnknownKind_IsNull()
    {
        // Field 2000, wire type 2, empty: a kind of a later version.
        Assert.Null(ObservationCodec.Decode([0x82, 0x7d, 0x00]));
    }

    [Theory]
    [InlineData(typeof(TrialKind), typeof(V1.TrialKind))]
    [InlineData(typeof(ClassStandard), typeof(V1.ClassStandard))]
    [InlineData(typeof(TrialRole), typeof(V1.TrialRole))]
    [InlineData(typeof(RunOutcome), typeof(V1.RunOutcome))]
    [InlineData(typeof(TargetKind), typeof(V1.TargetKind))]
    [InlineData(typeof(ProofKind), typeof(V1.ProofKind))]
    [InlineData(typeof(ProofFinding), typeof(V1.ProofFinding))]
    [InlineData(typeof(BlockState), typeof(V1.BlockState))]
    [InlineData(typeof(Attachment), typeof(V1.Attachment))]
    [InlineData(typeof(Cardassay.Identity.CardCondition), typeof(V1.CardCondition))]
    public void Enums_OnTheWireAndInCode_HaveTheSameNumbers(Type core, Type wire)
    {
        Assert.Equal(
            Enum.GetValuesAsUnderlyingType(core).Cast<int>().Order(),
            Enum.GetValuesAsUnderlyingType(wire).Cast<int>().Order());
        foreach (object value in Enum.GetValues(core))
        {
            if ((int)value != 0)
            {
                Assert.Equal(value.ToString(), Enum.GetName(wire, (int)value));
            }
        }
    }

    private static Conditions SampleConditions() => new()
    {
        BusMode = "sd uhs SDR104", ClockHz = 208_000_000, ActualClockHz = 200_000_000, BusWidthBits = 4, SignalVoltage = "1.80 V",
        LinkErrors = 0, Governor = "schedutil", CpuKHz = 1_500_000, Temperatures = [new("cpu-thermal", 51_234), new("z", -5)],
        UnderVoltage = false, Throttled = true, LoadAverage = 0.25, MemoryAvailableBytes = 1, DirtyBytes = 2, WriteCache = "write back",
        SectorsRead = 3, SectorsWritten = 4, ReadsCompleted = 5, WritesCompleted = 6, CpuMaxKHz = 1_800_000, Processors = 4, BesideDisk = "mmcblk1",
        Unreadable = new SortedDictionary<string, string>(StringComparer.Ordinal) { ["a"] = "permission denied" },
    };

    private static TrialMeasured SampleTrial()
    {
        var latency = new LatencyHistogram();
        foreach (long ns in (long[])[1, 900, 70_000, 70_100, 3_000_000, 400_000_000])
        {
            latency.Record(ns);
        }

        return new TrialMeasured
        {
            RunId = Run, Index = 3, Repetition = 2, Role = TrialRole.Closing, Kind = TrialKind.RandomRead, BlockBytes = 4096, QueueDepth = 4,
            RangeStartBytes = 1 << 20, RangeBytes = 1 << 30, Seed = 42, Operations = 6, Bytes = 6 * 4096, ElapsedNs = 500_000_000,
            Latency = latency, Timeline = [new(6, 24_576, 400_000_000)], Stalls = [new(1, 2, 400_000_000, IsRead: true)], StallCount = 1,
            ReadLatency = latency, ReadBytes = 4096, ReadStallLimitNs = 100_000_000, UnitNs = [5, 6], TimerLateNs = 7, Pass = 2, RangeMoves = true,
            WrittenBeforeBytes = 8, SinceWholeBytes = 0, FilledBytes = 9, Recovery = true,
            StallLimitNs = 250_000_000, Part = 2, ReadPercent = 70, OpenSegments = 4, SegmentBytes = 4 << 20, Extending = true,
            Standard = ClassStandard.VideoClass, Units = 3, LeftOutUnits = 1, CountedUnitBytes = 4 << 20, SlowestUnitNs = 250_000_000, FastestUnitNs = 90_000_000, ContentKnown = true, Valid = false, Reasons = ["Another process used the card."],
            Before = SampleConditions(), During = [SampleConditions()], After = new Conditions(),
        };
    }
}
