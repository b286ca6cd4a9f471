using Cardassay.Identity;
using Cardassay.Plans;
using Cardassay.Registers;
using Cardassay.Tests.Registers;
using Cardassay.Trials;

namespace Cardassay.Tests.Identity;

/// <summary>
/// Minimums and conditions: SD physical layer specification 4.10, 4.13 with tables 4-56 f. and 4-60, and the SD Association's public pages;
/// those of the application classes beyond their minimum are from memory.
/// </summary>
public sealed class ClassJudgeTests
{
    private const string Uhs = "sd uhs SDR104";

    [Theory]
    [InlineData("C10", "sd high-speed", 10.0, true)]
    [InlineData("C4", "legacy", 4.1, true)]
    [InlineData("U1", Uhs, 10.5, true)]
    [InlineData("U1", "sd uhs DDR50", 10.0, true)]
    [InlineData("V30", Uhs, 30.0, true)]
    public void Judge_UnderItsCondition_IsJudged(string mark, string bus, double megabytes, bool met)
    {
        MarkJudgement judgement = Judge(mark, Writes(mark, bus, [megabytes, megabytes + 2, megabytes]));
        Assert.Equal((MarkBasis.Judged, met), (judgement.Basis, judgement.Met));
        Assert.Equal(("met", "judged"), (judgement.Outcome, judgement.Statement));
        Assert.Contains(bus, judgement.Text, StringComparison.Ordinal);
    }

    // Linux sends no speed class command (CMD20), after which alone an SDXC card owes its speed (P4 4.13.2.8): what this host cannot ask for, it does
    // not deny. Of an SDHC card every counted unit of two runs must fall short, with a link that made no error.
    [Theory]
    [InlineData(CardFamily.Sdxc, 20, 2, 0L, MarkBasis.AsThisHostCanAsk, "CMD20")]
    [InlineData(CardFamily.Sduc, 20, 2, 0L, MarkBasis.AsThisHostCanAsk, "CMD20")]
    [InlineData(CardFamily.None, 20, 2, 0L, MarkBasis.AsThisHostCanAsk, "CMD20")]
    [InlineData(CardFamily.Sdhc, 20, 2, 0L, MarkBasis.Judged, "")]
    [InlineData(CardFamily.Sdsc, 20, 2, 0L, MarkBasis.Judged, "")]
    [InlineData(CardFamily.Sdhc, 20, 1, 0L, MarkBasis.AsThisHostCanAsk, "one run only")]
    [InlineData(CardFamily.Sdhc, 31, 2, 0L, MarkBasis.AsThisHostCanAsk, "fast enough")]
    [InlineData(CardFamily.Sdhc, 20, 2, null, MarkBasis.AsThisHostCanAsk, "does not count")]
    public void Judge_Shortfall_DeniesTheMarkOnlyWhereNothingElseExplainsIt(CardFamily family, double fastest, int runs, long? linkErrors, MarkBasis basis, string why)
    {
        RunId[] ids = [.. Enumerable.Range(0, runs).Select(_ => new RunId(Guid.NewGuid()))];
        ClassSample[] samples =
            [.. Writes("U3", Uhs, [12, 18, 15, 17]).Select((s, i) => s with { Family = family, Fastest = fastest, RunId = ids[i % runs], LinkErrors = linkErrors })];
        MarkJudgement judgement = Judge("U3", samples);
        Assert.Equal((basis, false, "not met"), (judgement.Basis, judgement.Met, judgement.Outcome));
        Assert.Contains(why, judgement.Text, StringComparison.Ordinal);
        FindingSeverity severity = SeverityOf(judgement);
        Assert.Equal(basis == MarkBasis.Judged ? FindingSeverity.Contradiction : FindingSeverity.Doubt, severity);
    }

    [Fact]
    public void Judge_ShortfallWithLinkErrors_IsNotJudged()
    {
        ClassSample[] samples = Each("C10", s => s with { Value = 4, Fastest = 5, Family = CardFamily.Sdhc, LinkErrors = 1, RunId = new RunId(Guid.NewGuid()) });
        IsNotJudgeable(Judge("C10", samples), "link");
    }

    [Fact]
    public void Judge_RecordOfAnAgentThatCountedTheFirstUnit_IsNotJudged() =>
        IsNotJudgeable(Judge("U1", Each("U1", s => s with { Value = 3, CountedUnitBytes = 0 })), "older agent");

    [Fact]
    public void Rule_OrdinaryTrials_NeverContradict() =>
        Assert.Equal(FindingSeverity.Doubt, SeverityOf(new MarkJudgement("U3", false, "x", MarkBasis.OrdinaryTrials)));

    [Fact]
    public void Judge_SomeTrialsBelow_IsUndecided()
    {
        MarkJudgement judgement = Judge("V30", Writes("V30", Uhs, [31, 29, 33]));
        Assert.Equal("undecided", judgement.Outcome);
        Assert.Contains("29.0 to 33.0 MB/s, required 30", judgement.Text, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("C10", "legacy", "below the condition")]
    [InlineData("U1", "sd high-speed", "below the condition")]
    [InlineData("U3", "sd uhs SDR12", "below the condition")]
    [InlineData("U1", "sd uhs SDR25", "below the condition")] // SDR25 is no UHS speed (table 4-60)
    [InlineData("U1", "sd uhs SDR12", "below the condition")]
    [InlineData("V30", "sd uhs SDR25", "below the condition")]
    [InlineData("V30", null, "bus mode is unknown")]
    [InlineData("V30", "sd uhs SDR999", "not known to this version")]
    [InlineData("V60", Uhs, "UHS-II")]
    [InlineData("V90", Uhs, "UHS-II")]
    public void Judge_BusThatCannotShowIt_IsNotJudgeable(string mark, string? bus, string why) =>
        IsNotJudgeable(Judge(mark, Writes(mark, bus, [200, 200, 200])), why);

    [Fact]
    public void Judge_OneLineOfFour_IsNotJudgeable() =>
        IsNotJudgeable(Judge("V30", Each("V30", s => s with { Bus = s.Bus with { BusWidthBits = 1 } })), "with 1 lines");

    [Fact]
    public void Judge_Folder_IsNotJudgeable() => IsNotJudgeable(Judge("V30", Each("V30", s => s with { Target = TargetKind.Folder })), "file system");

    [Fact]
    public void Judge_Reader_IsNotJudgeable() => IsNotJudgeable(Judge("C10", Each("C10", s => s with { Attachment = Attachment.Reader })), "reader hides");

    [Fact]
    public void Judge_FixedDisk_IsNotJudgeable() => IsNotJudgeable(Judge("C10", Each("C10", s => s with { Attachment = Attachment.Fixed })), "no card in a slot");

    [Fact]
    public void Judge_OtherUnitThanTheCards_IsNotJudgeable() =>
        IsNotJudgeable(Judge("V30", Each("V30", s => s with { UnitBytes = 4 << 20 })), "Units of 4 MiB were written, but the card's is 8 MiB");

    [Fact]
    public void Judge_UnitNotStated_IsNotJudgeable() =>
        IsNotJudgeable(Judge("V30", Each("V30", s => s with { StatedUnitBytes = null })), "does not state");

    [Fact]
    public void Judge_TwoTrials_AreTooFew() => IsNotJudgeable(Judge("V30", Writes("V30", Uhs, [40, 40])), "Only 2 valid trials");

    [Fact]
    public void Judge_AnotherClassMeasured_SaysNothing()
    {
        Assert.True(SpeedMark.TryParse("U3", out SpeedMark mark));
        Assert.Null(ClassJudge.Judge(mark, Writes("V30", Uhs, [40, 40, 40])));
    }

    [Theory]
    [InlineData(1500, 500, 10, true, "minimum reached")]
    [InlineData(1499, 500, 10, false, "minimum not reached")]
    [InlineData(1500, 499, 10, false, "minimum not reached")]
    [InlineData(1500, 500, 9.9, false, "minimum not reached")]
    public void Judge_A1_IsFromMemoryAndNeverAClass(double reads, double writes, double megabytes, bool reached, string outcome)
    {
        MarkJudgement judgement = Judge("A1", Application(reads, writes, megabytes));
        Assert.Equal((MarkBasis.ConditionFromMemory, reached, outcome), (judgement.Basis, judgement.Met, judgement.Outcome));
        Assert.Contains("from memory", judgement.Text, StringComparison.Ordinal);
    }

    [Fact]
    public void Judge_A2_IsNotJudgeableEvenWhenFast() => IsNotJudgeable(Judge("A2", Application(9000, 9000, 90)), "command queue");

    [Fact]
    public void Judge_A2BelowTheFloorsOfA1_IsSaid() => Assert.Equal("minimum not reached", Judge("A2", Application(1000, 400, 90)).Outcome);

    [Fact]
    public void Judge_A1WithoutItsWrites_IsNotJudgeable() =>
        IsNotJudgeable(Judge("A1", [.. Application(2000, 900, 20).Where(s => s.Kind != TrialKind.ClassRandomWrite)]), "classRandomWrite");

    [Fact]
    public void Rule_ClaimedMarkMissed_IsADoubtWhenItsConditionIsFromMemory()
    {
        Assert.Equal(FindingSeverity.Doubt, SeverityOf(new MarkJudgement("A2", false, "x", MarkBasis.ConditionFromMemory)));
        Assert.Equal(FindingSeverity.Contradiction, SeverityOf(new MarkJudgement("A2", false, "x", MarkBasis.Judged)));
    }

    // V7 states AU code 9 (4 MiB), UHS AU code 9 (4 MiB) and VSC_AU_SIZE 8 MB.
    [Theory]
    [InlineData(ClassStandard.SpeedClass, 4L << 20)]
    [InlineData(ClassStandard.UhsGrade, 4L << 20)]
    [InlineData(ClassStandard.VideoClass, 8L << 20)]
    public void Fit_Card_PutsInItsOwnUnit(ClassStandard standard, long bytes)
    {
        SdStatus status = RegisterVectors.V7.Registers(62_277_025_792).Status.Value!;
        Plan plan = ClassUnits.Fit(BuiltInPlans.Find("class-marks")!, status);
        Assert.Equal(bytes, plan.Steps.Single(s => s.Kind == TrialKind.ClassWrite && s.Standard == standard).SegmentBytes);
    }

    [Fact]
    public void Place_ClassWrite_TakesWholeUnitsOnly()
    {
        Plan plan = PlanReader.Parse(
            """{ "name": "a", "version": "1", "steps": [ { "kind": "classWrite", "class": "video", "seconds": 5, "bytes": "1 MiB", "range": { "startBytes": "1 MiB", "bytes": "30 MiB" } } ] }""", "a");
        ResolvedStep step = ResolvedStep.PlaceAll(plan with { Steps = [plan.Steps[0] with { SegmentBytes = 8 << 20 }] }, 64 << 20)[0];
        Assert.Equal((8L << 20, 16L << 20, 24L << 20), (step.StartBytes, step.LengthBytes, step.WriteBytesAtMost));
    }

    private static void IsNotJudgeable(MarkJudgement judgement, string why)
    {
        Assert.Equal((MarkBasis.NotJudgeable, null, "not judged"), (judgement.Basis, judgement.Met, judgement.Outcome));
        Assert.Contains(why, judgement.Text, StringComparison.Ordinal);
    }

    private static FindingSeverity SeverityOf(MarkJudgement judgement) => CardJudge.Judge(new CardEvidence
    {
        Registers = RegisterVectors.V7.Registers(62_277_025_792),
        Claim = new Claim { Tag = "T", LabelGigabytes = 64, Marks = [judgement.Mark] },
        Marks = [judgement],
    }).Findings.Single(f => f.Id == "measured-marks").Severity;

    private static MarkJudgement Judge(string text, IReadOnlyList<ClassSample> samples)
    {
        Assert.True(SpeedMark.TryParse(text, out SpeedMark mark));
        return Assert.IsType<MarkJudgement>(ClassJudge.Judge(mark, samples));
    }

    private static ClassSample[] Each(string mark, Func<ClassSample, ClassSample> change) => [.. Writes(mark, Uhs, [40, 40, 40]).Select(change)];

    private static ClassSample[] Writes(string mark, string? bus, double[] megabytes) =>
    [
        .. megabytes.Select(value => new ClassSample
        {
            Kind = TrialKind.ClassWrite, Standard = ClassConditions.OfLetter(mark[0]), Value = value, Attachment = Attachment.Slot, Target = TargetKind.Device,
            Bus = new Conditions { BusMode = bus, BusWidthBits = 4 }, UnitBytes = 8 << 20, StatedUnitBytes = 8 << 20, CountedUnitBytes = 4 << 20,
        }),
    ];

    private static ClassSample[] Application(double reads, double writes, double megabytes) =>
    [
        .. Writes("A1", Uhs, [megabytes, megabytes, megabytes]),
        .. Writes("A1", Uhs, [reads, reads, reads]).Select(s => s with { Kind = TrialKind.ClassRandomRead }),
        .. Writes("A1", Uhs, [writes, writes, writes]).Select(s => s with { Kind = TrialKind.ClassRandomWrite }),
    ];
}
