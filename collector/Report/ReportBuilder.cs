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
    /// <summary>With more cards than these most are told in short, so that the file still opens on a telephone.</summary>
    public const int WholeUpTo = 60;

    /// <summary>Cards that such a report shows whole.</summary>
    public const int WholeOfMany = 20;

    /// <summary>Builds the model.</summary>
    /// <param name="data">The snapshot the analysis was made from: conditions, timelines and latency come from its records.</param>
    /// <param name="analysis">What the analysis says of it.</param>
    /// <param name="standings">By <see cref="CardResult.Name"/>; a card without one is "not proven".</param>
    /// <param name="night">The nights the overview speaks of.</param>
    /// <param name="allCards">True to show every card whole however many there are; of very many each is made when it is asked for.</param>
    public static ReportModel Build(
        MasterData data, AnalysisResult analysis, IReadOnlyDictionary<string, CardStanding> standings, ReportNight night, bool allCards = false)
    {
        analysis = Analyser.ByVerdict(data, analysis, CardStandings.NotAsClaimed(standings));
        var source = new ReportSource(data, analysis, standings);
        CardResult[] order = [.. source.InOrder()];
        ReportCard[] cards = order.Length <= WholeUpTo ? Each(order, card => CardBuilder.Whole(source, card))
            : allCards ? Each(order, card => CardBuilder.Build(source, card)) : InShort(source, order, night);
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
        return report with
        {
            First = FirstPageBuilder.Build(report),
            Cards = allCards && order.Length > WholeUpTo ? new WholeCards(source, order) : cards,
        };
    }

    /// <summary>Cards whole, as a report that has them in short does not.</summary>
    /// <param name="data">The snapshot the analysis was made from.</param>
    /// <param name="analysis">What the analysis says of it.</param>
    /// <param name="standings">By <see cref="CardResult.Name"/>.</param>
    /// <param name="names">The cards, by <see cref="CardResult.Name"/>.</param>
    public static IReadOnlyList<ReportCard> Whole(
        MasterData data, AnalysisResult analysis, IReadOnlyDictionary<string, CardStanding> standings, IEnumerable<string> names)
    {
        analysis = Analyser.ByVerdict(data, analysis, CardStandings.NotAsClaimed(standings));
        var source = new ReportSource(data, analysis, standings);
        Dictionary<string, CardResult> cards = analysis.Cards.ToDictionary(c => c.Name, StringComparer.Ordinal);
        return [.. names.Select(name => CardBuilder.Whole(source, cards[name]))];
    }

    /// <summary>Very many cards: whole are those of the nights spoken of, and then those that need a person.</summary>
    private static ReportCard[] InShort(ReportSource source, CardResult[] order, ReportNight night)
    {
        ReportCard[] cards = Each(order, card => CardBuilder.Build(source, card));
        int[] whole =
        [
            .. Enumerable.Range(0, cards.Length).Where(IsOfTheNight).Concat(Enumerable.Range(0, cards.Length).Where(NeedsPerson)).Distinct().Take(WholeOfMany),
        ];
        Parallel.ForEach(whole, i => cards[i] = CardBuilder.Whole(source, order[i]));
        return cards;

        bool IsOfTheNight(int i) => order[i].Runs.Any(r => r.Night >= night.First && r.Night <= night.Last);
        bool NeedsPerson(int i) => cards[i].Findings.Any(f => f.Severity != "note");
    }

    /// <summary>Each reads what is finished by now, and nothing of it is changed.</summary>
    private static ReportCard[] Each(CardResult[] order, Func<CardResult, ReportCard> build)
    {
        var cards = new ReportCard[order.Length];
        Parallel.For(0, cards.Length, i => cards[i] = build(order[i]));
        return cards;
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
