using System.Text.Json;
using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>A proof as JSON.</summary>
internal sealed record ProveJson(
    long ClaimedBytes, long? TrueBytes, long KeepsAtLeastBytes, string Kind, long BlocksWritten, long BlocksRead, double? LostFractionBelow, string? Assumption,
    double? LostFractionAtLeast, string Statement, IReadOnlyList<ProofRange> Ranges, IReadOnlyList<Finding> Findings)
{
    internal static string Render(ProveResult result)
    {
        (ProofMeasured proof, ProofJudgement judgement) = (result.Proof, result.Judgement);
        var json = new ProveJson(
            proof.ClaimedBytes, judgement.TrueBytes, judgement.KeepsAtLeastBytes, ProofFindings.Kind(proof), proof.BlocksWritten, proof.BlocksRead,
            proof.LostFractionBelow, proof.LostFractionBelow is null ? null : ProofFindings.Assumption(proof),
            judgement.Word >= ProofWord.Defective ? judgement.LostFractionAtLeast : null, ProofFindings.Statement(proof), proof.Ranges, result.Findings);
        return JsonSerializer.Serialize(json, CommandJson.Default.ProveJson);
    }
}
