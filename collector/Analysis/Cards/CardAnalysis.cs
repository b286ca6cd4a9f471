using Cardassay.Collector.Analysis.CardBoard;
using Cardassay.Collector.Analysis.CrossChecks;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Trials;

namespace Cardassay.Collector.Analysis.Cards;

/// <summary>Everything that follows from one card's own data and the warm-up lengths of the pooled history.</summary>
internal static class CardAnalysis
{
    public static CardWork Of(
        CardFigures figures, CardFingerprint fingerprint, IReadOnlyDictionary<(string Plan, TrialKind Kind), int> warmUps, bool withAll)
    {
        var trials = new Lazy<IReadOnlyList<TrialOutcome>>(() => [.. figures.Source.Runs.SelectMany(r => r.Figures.Trials)]);
        MetricSummary[] metrics =
        [
            .. figures.Keys.Select(k => KeySummary.Of(
                figures, k, warmUps.GetValueOrDefault((FirstRunPool.PlanOf(k.Key), k.Key.Kind)), withAll, trials)),
        ];
        CardSource source = figures.Source;
        var result = new CardResult
        {
            Name = source.Name,
            Tag = source.Tag,
            Claim = source.Claim,
            ClaimOrigin = source.ClaimOrigin,
            OtherClaims = source.OtherClaims,
            OtherStickers = source.OtherStickers,
            Identities = Identities(source),
            Runs = figures.Runs,
            Metrics = metrics,
            Marks = MarkChecks.Of(source, metrics),
            Invented = source.Claim?.Invented == true || source.Runs.Any(r => r.Opened.Invented),
            WrittenBytes = figures.OdometerByNight.Count == 0 ? 0 : figures.OdometerByNight.Last().Value,
        };
        return new CardWork
        {
            Fingerprint = fingerprint,
            Figures = figures,
            Result = result with { Findings = [.. CardChecks.Of(figures, result)] },
            Tests = [.. CardTests.Of(figures)],
            Series = [.. metrics.Select(m => SeriesRuns.Of(source.Name, m)).OfType<SeriesRuns>()],
        };
    }

    private static IReadOnlyList<SeenIdentity> Identities(CardSource source) =>
    [
        .. source.Runs.Where(r => r.Card is not null)
            .GroupBy(r => (r.Card!.Identity, r.Card.IdentityFromRegisters))
            .Select(g => new SeenIdentity(g.Key.Identity, g.Key.IdentityFromRegisters, [.. g.Select(r => r.Key)])),
    ];
}
