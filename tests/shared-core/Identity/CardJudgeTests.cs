using Cardassay.Identity;
using Cardassay.Registers;
using Cardassay.Tests.Registers;
using Cardassay.Trials;

namespace Cardassay.Tests.Identity;

public class CardJudgeTests
{
    private static readonly CardEvidence Complete = new()
    {
        Registers = RegisterVectors.V7.Registers(62_277_025_792),
        Claim = new Claim { Tag = "T", LabelGigabytes = 64, Marks = ["V30", "A2"] },
        Today = new DateOnly(2025, 1, 1),
        Proof = new CapacityProofSummary { Kind = CapacityProofKind.Full },
        Marks = [new MarkJudgement("V30", true, "41 MB/s."), new MarkJudgement("A2", null, "No command queue on this host.")],
    };

    public static TheoryData<string, VerdictKind, string> Table => new()
    {
        { "complete", VerdictKind.AsClaimed, "A2 could not be judged: No command queue on this host." },
        { "no mark claimed", VerdictKind.AsClaimed, "" },
        { "sparse", VerdictKind.AsClaimedSparselyProbed, "A full capacity proof. | A2 could not be judged: No command queue on this host." },
        { "no proof", VerdictKind.NotProven, "A capacity proof over the whole address range (it destroys what is on the card)." },
        { "no claim", VerdictKind.NotProven, "A claim: what label and shop say of the card." },
        { "no label", VerdictKind.NotProven, "The capacity on the label." },
        { "marks not looked at", VerdictKind.NotProven, "The marks on the label, or the word that it bears none." },
        { "mark not measured", VerdictKind.NotProven, "Trials that show whether the card meets V30." },
        { "reader", VerdictKind.NotProven, "Readable registers: put the card into an SD slot whose kernel shows CID and CSD." },
        { "no CSD", VerdictKind.NotProven, "Readable registers: put the card into an SD slot whose kernel shows CID and CSD." },
        { "doubt", VerdictKind.Doubtful, "Read a second card of the same purchase: the same serial number again shows that none was given." },
        { "contradiction", VerdictKind.NotAsClaimed, "Check that the label capacity was entered as printed." },
        { "doubt and contradiction", VerdictKind.NotAsClaimed, "Check that the label capacity was entered as printed." },
        { "overstated", VerdictKind.NotAsClaimed, "" },
        { "defective", VerdictKind.Doubtful, "Return it as faulty; should another slot or reader be at hand, a full proof there shows whether the fault goes with the card." },
        { "not judged", VerdictKind.NotProven, "A capacity proof over the whole address range (it destroys what is on the card)." },
        { "mark missed", VerdictKind.NotAsClaimed, "Measure again on another board; a reference card on the same board shows whether the board is to blame." },
    };

    [Theory]
    [MemberData(nameof(Table))]
    public void Judge_EveryCase_GivesTheVerdictOfTheDesign(string name, VerdictKind kind, string missing)
    {
        Verdict verdict = CardJudge.Judge(Case(name)).Verdict;

        Assert.Equal(kind, verdict.Kind);
        Assert.Equal(missing, string.Join(" | ", verdict.Missing));
    }

    [Fact]
    public void Judge_NothingKnown_NamesEverythingThatIsMissing()
    {
        Verdict verdict = CardJudge.Judge(new CardEvidence { Registers = new CardRegisters() }).Verdict;

        Assert.Equal("not proven", verdict.Words);
        Assert.Equal(3, verdict.Missing.Count);
    }

    [Fact]
    public void Judge_DoubtWithoutAProof_NamesBothWhatSettlesAndWhatIsMissing()
    {
        Verdict verdict = CardJudge.Judge(Case("doubt") with { Proof = new CapacityProofSummary() }).Verdict;

        Assert.Equal(VerdictKind.Doubtful, verdict.Kind);
        Assert.Equal(2, verdict.Missing.Count);
    }

    [Fact]
    public void Judge_NotesAlone_NeverChangeTheVerdict()
    {
        CardEvidence noted = Complete with { Registers = RegisterVectors.V8.With(scr: s => s with { Spec = 2, Spec3 = true, BusWidths = 5, CommandSupport = 3 }), Today = null };

        CardJudgement judgement = CardJudge.Judge(noted);

        Assert.NotEmpty(judgement.Findings);
        Assert.Equal(VerdictKind.AsClaimed, judgement.Verdict.Kind);
    }

    [Fact]
    public void Judge_EveryPlantedFault_FollowsTheWorstFinding()
    {
        foreach (PlantedFault fault in PlantedFaults.All)
        {
            CardJudgement judgement = CardJudge.Judge(fault.Faulty);
            FindingSeverity worst = judgement.Findings.Max(f => f.Severity);
            VerdictKind kind = judgement.Verdict.Kind;
            Assert.Equal(worst == FindingSeverity.Contradiction, kind == VerdictKind.NotAsClaimed);
            Assert.Equal(worst == FindingSeverity.Doubt, kind == VerdictKind.Doubtful);
        }
    }

    private static CardEvidence Case(string name) => name switch
    {
        "complete" => Complete,
        "no mark claimed" => Complete with { Claim = Complete.Claim! with { Marks = [] }, Marks = [] },
        "sparse" => Complete with { Proof = new() { Kind = CapacityProofKind.Sparse, LostFractionBelow = 0.003 } },
        "no proof" => Complete with { Proof = new() },
        "no claim" => Complete with { Claim = null },
        "no label" => Complete with { Claim = Complete.Claim! with { LabelGigabytes = null } },
        "marks not looked at" => Complete with { Claim = Complete.Claim! with { Marks = null } },
        "mark not measured" => Complete with { Marks = [.. Complete.Marks.Skip(1)] },
        "reader" => Complete with { Registers = new CardRegisters { Attachment = Attachment.Reader, DiskBytes = 62_277_025_792 } },
        "no CSD" => Complete with { Registers = Complete.Registers with { Csd = Reading<Csd>.Unreadable("x") } },
        "doubt" => Complete with { Registers = RegisterVectors.V7.With(cid: c => c with { SerialNumber = 0 }) },
        "contradiction" => Complete with { Claim = Complete.Claim! with { LabelGigabytes = 128 } },
        "doubt and contradiction" => Case("doubt") with { Claim = Complete.Claim! with { LabelGigabytes = 128 } },
        "overstated" => Complete with { Proof = new() { Kind = CapacityProofKind.Full, OverstatementFound = true } },
        "defective" => Complete with { Proof = new() { DefectFound = true, Finding = ProofFinding.Unreadable } },
        "not judged" => Complete with { Proof = new() { NotJudged = true } },
        "mark missed" => Complete with { Marks = [new MarkJudgement("V30", false, "12 MB/s.", MarkBasis.Judged), new MarkJudgement("A2", true, "x")] },
        _ => throw new ArgumentOutOfRangeException(nameof(name), name, "no such case"),
    };
}
