using System.Globalization;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Report.Building;
using Cardassay.Collector.Report.First;
using Cardassay.Collector.Report.Model;
using Cardassay.Identity;

namespace Cardassay.Collector.Report;

/// <summary>Words and rounds what analysis and standings say, and brings it into the order of the report. Pure.</summary>
public static class ReportBuilder
{
    /// <summary>Builds the model.</summary>
    /// <param name="data">The snapshot the analysis was made from: conditions, timelines and latency come from its records.</param>
    /// <param name="analysis">What the analysis says of it.</param>
    /// <param name="standings">By <see cref="CardResult.Name"/>; a card without one is "not proven".</param>
    /// <param name="night">The nights the overview speaks of.</param>
    public static ReportModel Build(
        MasterData data, AnalysisResult analysis, IReadOnlyDictionary<string, CardStanding> standings, ReportNight night)
    {
        analysis = Analyser.ByVerdict(data, analysis, CardStandings.NotAsClaimed(standings));
        var source = new ReportSource(data, analysis, standings);
        CardResult[] order = [.. source.InOrder()];
        var cards = new ReportCard[order.Length];

        // Each reads what is finished by now, and nothing of it is changed.
        Parallel.For(0, cards.Length, i => cards[i] = CardBuilder.Build(source, order[i]));
        var report = new ReportModel
        {
            GeneratedFor = data.AsOf == DateTimeOffset.UnixEpoch
                ? "the start (nothing was received)"
                : data.AsOf.UtcDateTime.ToString("yyyy-MM-dd HH:mm", CultureInfo.InvariantCulture) + " UTC",
            Span = Sentences.Span(night),
            Invented = cards.Any(c => c.Invented) || data.Claims.Any(c => c.Claim.Invented == true) || data.Runs.Any(r => r.Opened.Invented),
            Profile = analysis.Profile.Name,
            Method = Sentences.Method(source),
            Cautions = Sentences.Cautions,
            Night = NightBuilder.Build(source, night),
            NeedsPerson = NightBuilder.NeedsPerson(source, cards),
            VerdictChanges = [.. Changes(source, cards)],
            Integrity = (night.IsPast ? new ReportIntegrity(null, null, null, []) : new ReportIntegrity(
                data.Integrity.Received, data.Integrity.Gaps, data.Integrity.Conflicts, [.. data.IntakeFindings.Select(ReportFinding.From)])) with
            {
                EntriesLost = data.Integrity.EntriesLost,
                EntriesOnlyStored = data.Integrity.EntriesOnlyStored,
                LossesAreAcknowledged = data.Integrity.LossesAreAcknowledged,
            },
            RankingStatement = source.Ranking?.Statement ?? "",
            RankedPart = source.Ranking?.Part ?? "",
            Cards = cards,
            Products = ProductBuilder.Build(source, cards),
            Price = PriceBuilder.Build(source, cards),
            BoardStatements = BoardSentences.Of(analysis.BoardPairs, cards),
            Steps = CardComparisons.OfSteps(analysis, cards),
            Comparisons = Building.Comparisons.Build(source, cards),
            Laboratory = [.. source.LaboratoryFindings.Select(ReportFinding.From)],
            Tonight = night.Upcoming,
            Proposed = [.. analysis.Tonight.Select(s => new ProposedRun(
                Building.Comparisons.Title(source, s.Name), s.Board ?? "any", s.Plan ?? "", s.Runs, Figure.Of(s.Hours, 1), s.Reason))],
        };
        return report with { First = FirstPageBuilder.Build(report) };
    }

    private static IEnumerable<VerdictChange> Changes(ReportSource source, ReportCard[] cards)
    {
        CardResult[] order = [.. source.InOrder()];
        for (int i = 0; i < order.Length; i++)
        {
            if (source.Standing(order[i].Name)?.Before is Verdict before && before.Kind != cards[i].VerdictKind)
            {
                yield return new VerdictChange(cards[i].Title, before.Words, cards[i].Verdict);
            }
        }
    }
}
