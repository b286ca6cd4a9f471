using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Collector.Report.Model;

/// <summary>A capacity proof for programs; `report.schema.json` says what each member holds.</summary>
public sealed record ReportProof(
    ProofKind Method, string Kind, bool Complete, long ClaimedBytes, long? TrueBytes, long KeepsAtLeastBytes,
    long BlocksWritten, long BlocksRead, long LostBlocks, double? LostFractionBelow, string? Assumption, long NotJudgedBlocks, long? LinkErrors, IReadOnlyList<ProofRange> Ranges)
{
    /// <summary>What is told of a proof.</summary>
    public static ReportProof Of(ProofMeasured proof)
    {
        ArgumentNullException.ThrowIfNull(proof);
        ProofJudgement judgement = ProofJudgement.Of(proof);
        return new ReportProof(
            proof.Kind, ProofFindings.Kind(proof), proof.Complete, proof.ClaimedBytes, judgement.TrueBytes, judgement.KeepsAtLeastBytes, proof.BlocksWritten, proof.BlocksRead,
            proof.Counts.Lost, proof.LostFractionBelow, proof.LostFractionBelow is null ? null : ProofFindings.Assumption(proof), proof.Counts.NotJudged, proof.LinkErrors, proof.Ranges);
    }
}
