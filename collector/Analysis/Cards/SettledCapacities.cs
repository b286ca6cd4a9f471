using Cardassay.Identity;

namespace Cardassay.Collector.Analysis.Cards;

/// <summary>Cards whose capacity needs no further proof: a full one found nothing, or one showed an overstatement or a defect.</summary>
public static class SettledCapacities
{
    /// <summary>Their names, as <see cref="CardResult.Name"/>.</summary>
    public static IReadOnlySet<string> Of(MasterData data) =>
        CardSources.Of(data)
            .Where(card => CapacityProofSummary.Of([.. card.Runs.SelectMany(r => r.Proofs).Select(p => p.Proof)]) is
                { Kind: CapacityProofKind.Full } or { OverstatementFound: true } or { DefectFound: true })
            .Select(card => card.Name)
            .ToHashSet(StringComparer.Ordinal);
}
