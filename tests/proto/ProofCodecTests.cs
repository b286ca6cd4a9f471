using Cardassay.Trials;
using Cardassay.Wire;

namespace Cardassay.Proto.Tests;

public sealed class ProofCodecTests
{
    private static readonly RunId Run = new(new Guid("00112233-4455-6677-8899-aabbccddeeff"));

    [Fact]
    public void Decode_Proof_KeepsEveryMember()
    {
        ProofMeasured sample = ProofSamples.Full(Run);
        var back = Assert.IsType<ProofMeasured>(ObservationCodec.Decode(ObservationCodec.Encode(sample)));
        Assert.Equal(sample.Ranges, back.Ranges);
        Assert.Equal(sample.LostBlocks, back.LostBlocks);
        Assert.Equal(sample.Remarks, back.Remarks);
        Assert.Equal(sample.Troubles, back.Troubles);
        Assert.Equal(31, back.Before.LinkErrors);
        Assert.Equal(32, back.After.LinkErrors);
        Assert.Equal(
            sample with { Ranges = back.Ranges, LostBlocks = back.LostBlocks, Remarks = back.Remarks, Troubles = back.Troubles, Before = back.Before, After = back.After }, back);
    }

    [Fact]
    public void Decode_ProofWithoutOptionalMembers_KeepsThemNull()
    {
        var back = (ProofMeasured)ObservationCodec.Decode(ObservationCodec.Encode(new ProofMeasured { RunId = Run }))!;
        Assert.Null(back.TrueBytes);
        Assert.Null(back.LostFractionBelow);
        Assert.Null(back.LinkErrors);
        Assert.Null(back.ResumedAtBytes);
        Assert.Null(back.KeepsAtLeastBytes);
        Assert.Null(back.LostToEndFromBytes);
        Assert.Null(back.BudgetNs);
        Assert.Null(back.ReadAgainAfterNs);
    }

    [Fact]
    public void Encode_SmallProof_GivesTheGoldenBytes()
    {
        var proof = new ProofMeasured
        {
            RunId = Run, Complete = true, Kind = ProofKind.Sparse, ClaimedBytes = 8192, CoveredBytes = 8192, Finding = ProofFinding.Wrap, TrueBytes = 4096,
            Ranges = [new(0, 4096, BlockState.Kept), new(4096, 8192, BlockState.Wrapped)],
        };

        // Field numbers and types as in observation.proto, laid out by hand after the protobuf encoding guide (tag = number x 8 + wire type).
        const string Golden = "3A40" // field 7, 64 bytes
            + "0A10" + "00112233445566778899AABBCCDDEEFF" // run_id
            + "1801" + "2001" + "2801" // part, complete, kind
            + "308040" + "388040" + "4002" + "488020" // claimed, covered, finding, true
            + "CA01" + "05" + "108020" + "1801" // ranges[0]: end, state
            + "CA01" + "08" + "088020" + "108040" + "1802" // ranges[1]: start, end, state
            + "D0018020" // grain
            + "D20200" + "DA0200"; // before, after: empty
        Assert.Equal(Golden, Convert.ToHexString(ObservationCodec.Encode(proof)));
    }
}
