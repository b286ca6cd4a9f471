using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Report.Building;
using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Collector.Report;

/// <summary>Gathers the evidence on every card from the master data and has it judged. Pure.</summary>
public static class CardStandings
{
    /// <summary>Where every card stands, by <see cref="CardResult.Name"/>.</summary>
    /// <param name="data">The snapshot the analysis was made from.</param>
    /// <param name="analysis">The analysis of it.</param>
    /// <param name="before">Where the cards stood before the nights of the report, for the verdicts that changed; null when nobody asks.</param>
    public static IReadOnlyDictionary<string, CardStanding> Of(
        MasterData data, AnalysisResult analysis, IReadOnlyDictionary<string, CardStanding>? before = null)
    {
        Dictionary<RecordKey, RunRecord> runs = [];
        foreach (RunRecord run in data.Runs)
        {
            runs.TryAdd(run.Key, run);
        }

        Dictionary<string, CardRegisters> registers = [];
        foreach (CardResult card in analysis.Cards)
        {
            if (Newest(card, runs) is { } newest)
            {
                registers[card.Name] = CardRegisters.From(newest.Card!);
            }
        }

        ILookup<(string?, string, decimal?), CardResult> references = analysis.Cards.Where(c => c.Claim is { IsReference: true, Product: not null })
            .ToLookup(c => (c.Claim!.Maker, c.Claim.Product!, c.Claim.LabelGigabytes));
        ILookup<string, IdentitySighting> sightings = Sightings(analysis, runs);
        Dictionary<string, CardStanding> standings = [];
        foreach (CardResult card in analysis.Cards)
        {
            CardRegisters own = registers.GetValueOrDefault(card.Name) ?? new CardRegisters();
            ProofMeasured[] proofs = [.. card.Runs.Select(r => runs.GetValueOrDefault(r.Key)).OfType<RunRecord>().SelectMany(r => r.Proofs).Select(p => p.Proof)];
            var evidence = new CardEvidence
            {
                Registers = own,
                Claim = card.Claim,
                Today = DateOnly.FromDateTime(data.AsOf.UtcDateTime),
                References = [.. References(card, references).Where(c => registers.ContainsKey(c.Name)).Select(c => registers[c.Name])],
                Sightings = [.. card.Identities.Where(i => i.FromRegisters).SelectMany(i => sightings[i.Text])],
                EarlierIdentities = [.. card.Identities.SkipLast(1).Select(i => new CardIdentity(i.Text, i.FromRegisters))],
                Proof = CapacityProofSummary.Of(proofs),
                Marks = [.. card.Marks.Select(m => m.Judgement)],
            };
            CardJudgement judgement = CardJudge.Judge(evidence);
            standings[card.Name] = new CardStanding
            {
                Verdict = WithOtherClaims(WithAnalysis(judgement.Verdict, card), card, evidence),
                Before = before?.GetValueOrDefault(card.Name)?.Verdict,
                Findings = judgement.Findings,
                Facts = registers.ContainsKey(card.Name) && own.Identity is not null ? CardFacts.Of(own) : null,
                Capacity = CapacityMapBuilder.Build(proofs),
            };
        }

        return standings;
    }

    /// <summary>Names of the cards whose verdict is "not as claimed".</summary>
    public static IReadOnlySet<string> NotAsClaimed(IReadOnlyDictionary<string, CardStanding> standings) =>
        standings.Where(s => s.Value.Verdict.Kind == VerdictKind.NotAsClaimed).Select(s => s.Key).ToHashSet(StringComparer.Ordinal);

    /// <summary>A doubt is a doubt, whoever found it: the analysis may see one that no register shows.</summary>
    private static Verdict WithAnalysis(Verdict verdict, CardResult card)
    {
        FindingSeverity worst = card.Findings.Select(f => f.Finding.Severity).DefaultIfEmpty(FindingSeverity.Note).Max();
        VerdictKind kind = worst switch
        {
            FindingSeverity.Contradiction => VerdictKind.NotAsClaimed,
            FindingSeverity.Doubt when verdict.Kind != VerdictKind.NotAsClaimed => VerdictKind.Doubtful,
            _ => verdict.Kind,
        };
        return kind == verdict.Kind
            ? verdict
            : new Verdict(kind, [.. card.Findings.Where(f => f.Finding.Severity == worst).Select(f => f.Finding.Settles).OfType<string>().Concat(verdict.Missing).Distinct()]);
    }

    /// <summary>Where two claims of a card contradict each other, it is accused of nothing that one of them does not say: somebody has to look at the label.</summary>
    private static Verdict WithOtherClaims(Verdict verdict, CardResult card, CardEvidence evidence)
    {
        bool isSaidOtherwise = verdict.Kind == VerdictKind.NotAsClaimed && card.OtherClaims.Where(other => CollectorClaim.Contradict(card.Claim, other.Claim))
            .Any(other => WithAnalysis(CardJudge.Judge(evidence with { Claim = other.Claim }).Verdict, card).Kind != VerdictKind.NotAsClaimed);
        return isSaidOtherwise
            ? new Verdict(
                VerdictKind.Doubtful,
                ["Two claims of this card contradict each other, and by one of them it does not lie: look at its label, and say with `claim` what stands there.", .. verdict.Missing])
            : verdict;
    }

    private static RunRecord? Newest(CardResult card, Dictionary<RecordKey, RunRecord> runs) =>
        card.Runs.Select(r => runs.GetValueOrDefault(r.Key)).Where(r => r?.Card is not null).OrderBy(r => r!.Card!.IdentityFromRegisters).LastOrDefault();

    private static IEnumerable<CardResult> References(CardResult card, ILookup<(string?, string, decimal?), CardResult> references) =>
        card.Claim is { Product: { } product } claim ? references[(claim.Maker, product, claim.LabelGigabytes)].Where(c => c.Name != card.Name) : [];

    private static ILookup<string, IdentitySighting> Sightings(AnalysisResult analysis, Dictionary<RecordKey, RunRecord> runs) =>
    (
        from card in analysis.Cards
        from use in card.Runs
        let run = runs.GetValueOrDefault(use.Key)
        where run is { Card.IdentityFromRegisters: true }
        select (run!.Card!.Identity, Sighting: Sighting(card, run, run.Card))
    ).ToLookup(s => s.Identity, s => s.Sighting);

    private static IdentitySighting Sighting(CardResult card, RunRecord run, CardIdentified seen)
    {
        (DateTimeOffset From, DateTimeOffset Until)? span = NightClock.IsBelieved(run) ? run.Span : null;
        return new IdentitySighting(card.Tag, run.Board, seen.DiskName, span?.From, span?.Until, CardRegisters.From(seen)) { Collector = run.Origin };
    }
}
