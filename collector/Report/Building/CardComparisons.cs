using System.Globalization;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Ranking;
using Cardassay.Collector.Report.Model;
using Cardassay.Identity;

namespace Cardassay.Collector.Report.Building;

/// <summary>Compares two cards by the model that ranks them, and says no more than its intervals.</summary>
internal static class CardComparisons
{
    /// <summary>Compares every two of the cards, in the order given.</summary>
    public static IReadOnlyList<CardComparison> Of(AnalysisResult analysis, IReadOnlyList<ReportCard> cards) =>
        [.. cards.SelectMany((one, i) => cards.Skip(i + 1).Select(other => Compare(analysis, one.Title, other.Title)))];

    /// <summary>Groups in front that are held against the next one.</summary>
    private const int Steps = 2;

    /// <summary>The first card of each group against the first of the next.</summary>
    public static IReadOnlyList<CardComparison> OfSteps(AnalysisResult analysis, IReadOnlyList<ReportCard> cards)
    {
        ReportCard[] first =
        [
            .. cards.Where(c => c.Rank is { Group: > 0 } && c.VerdictKind != VerdictKind.NotAsClaimed).GroupBy(c => c.Rank!.Group).Select(g => g.First()).Take(Steps + 1),
        ];
        return [.. first.Zip(first.Skip(1), (one, other) => Compare(analysis, one.Title, other.Title))];
    }

    /// <summary>Compares two cards.</summary>
    /// <param name="analysis">The analysis the report was made from.</param>
    /// <param name="one">Title of the first card.</param>
    /// <param name="other">Title of the second.</param>
    public static CardComparison Compare(AnalysisResult analysis, string one, string other)
    {
        string? first = NameOf(analysis, one), second = NameOf(analysis, other);
        foreach (RankingTable table in analysis.Rankings.Where(t => t.Order is not null))
        {
            int a = IndexOf(table, first), b = IndexOf(table, second);
            if (a >= 0 && b >= 0 && a != b)
            {
                return Compare(table, one, a, other, b);
            }
        }

        return new CardComparison(one, other, $"{one} and {other} were not measured alike, so their figures are no comparison.", []);
    }

    private static CardComparison Compare(RankingTable table, string one, int a, string other, int b)
    {
        RankOrder order = table.Order!;
        CardDifference all = order.Difference(a, b);
        ComparedFigure[] figures =
        [
            Of("Performance", all),
            .. table.Keys.Select((key, i) => order.Difference(a, b, i) is { } difference ? Of(MetricBuilder.Name(key.Kind), difference) : null).OfType<ComparedFigure>(),
        ];
        return new CardComparison(one, other, Sentence(table, one, a, other, b, all), figures);
    }

    private static string Sentence(RankingTable table, string one, int a, string other, int b, CardDifference all)
    {
        RankOrder order = table.Order!;
        if (!order.AreLinked(a, b))
        {
            return $"Between {one} and {other} no order is known: no card links the boards they were measured on.";
        }

        if (double.IsInfinity(all.Needed))
        {
            return $"Between {one} and {other} no order is known: too little is known of how far their figures scatter.";
        }

        string level = $"at {Percent(RankOrder.JointLevel)} for all {Wording.Number(table.Cards.Count)} cards of the ranking at once";
        (string ahead, string behind, CardDifference difference) = all.Log >= 0 ? (one, other, all) : (other, one, order.Difference(b, a));
        if (difference.IsSure)
        {
            ComparedFigure by = Of("", difference);
            string floors = table.Cards[a].Floors == table.Cards[b].Floors ? "" : " Floors count before performance: see the rank.";
            return $"{ahead} is ahead of {behind} by {by.Low!.Text} to {by.High!.Text} %: sure, {level}.{floors}";
        }

        return $"{one} and {other} are not told apart: {Of("", all).Line}, {level}. That does not show them equal.";
    }

    private static ComparedFigure Of(string name, CardDifference difference) => double.IsInfinity(difference.Needed)
        ? new ComparedFigure(name, Rounded(difference.Log), null, null)
        : new ComparedFigure(name, Rounded(difference.Log), Rounded(difference.Log - difference.Needed), Rounded(difference.Log + difference.Needed));

    private static Figure Rounded(double log) => Figure.Of(100 * (Math.Exp(log) - 1), 1);

    private static string Percent(double share) => string.Create(CultureInfo.InvariantCulture, $"{100 * share:0} %");

    private static string? NameOf(AnalysisResult analysis, string title) => analysis.Cards.FirstOrDefault(c => ReportSource.Title(c) == title)?.Name;

    private static int IndexOf(RankingTable table, string? name) => table.Cards.Select((c, i) => (c.Name, i)).Where(c => c.Name == name).Select(c => c.i).DefaultIfEmpty(-1).First();
}
