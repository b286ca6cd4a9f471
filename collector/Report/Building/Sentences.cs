using System.Globalization;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Report.Model;
using Cardassay.Trials;

namespace Cardassay.Collector.Report.Building;

/// <summary>How the figures came about, and what they do not say.</summary>
internal static class Sentences
{
    /// <summary>What no reader should take from a report.</summary>
    public static readonly IReadOnlyList<string> Cautions =
    [
        "A verdict states what was read and measured on one card. It is no guarantee for that card and says nothing certain about another one of the same product.",
        "Figures hold for the plan, board, bus mode, file system and state of the card stated beside them. Other conditions give other figures.",
        "Registers are what a card says of itself; whoever makes a false card can write false registers.",
        "A sparse capacity proof finds wrapped addresses for certain and bounds any other loss, unless the card folds addresses together in another way, gives out storage only as it is written or hides behind a large cache; what a card keeps at the least holds whatever it does, and only a full proof covers every address.",
        "Synchronous writes through a folder measure the file system together with the card.",
        "Measuring wears a card: the odometer states what was written to it.",
        "A price is that of the day stated beside it. Unknown is not free.",
    ];

    /// <summary>Before this day no such card was measured: the data are none, and their clock stands at 1970.</summary>
    private static readonly DateOnly NoNight = new(1999, 1, 1);

    /// <summary>The span in words.</summary>
    public static string Span(ReportNight night)
    {
        if (night.Last.DayNumber < NoNight.DayNumber)
        {
            return "no night yet";
        }

        DateOnly morning = night.Last.AddDays(1);
        string from = night.First.ToString(night.First.Year == morning.Year ? night.First.Month == morning.Month ? "%d" : "d MMMM" : "d MMMM yyyy", CultureInfo.InvariantCulture);
        string to = morning.ToString("d MMMM yyyy", CultureInfo.InvariantCulture);
        return $"{(night.First == night.Last ? "night" : "nights")} of {from} to {to}";
    }

    public static IReadOnlyList<string> Method(ReportSource source)
    {
        UseProfile profile = source.Analysis.Profile;
        List<string> lines =
        [
            "Each figure is the median of repetitions measured alike (one plan, one kind of target and attachment, one bus mode, one state of card); n is their number. Nothing is dropped: what does not count is shown with the reason.",
            "[ ] holds the exact interval of the median from order statistics, at 97.5 % or more because repetition stops on sight. Below seven figures no such interval exists and the range stands in its place.",
            $"Profile {profile.Name}: {string.Join(", ", profile.Metrics.Select(Weight))}. Performance is the weighted geometric mean of the ratios to these references; nothing is capped{(profile.Metrics.Any(m => m.Enough is not null) ? " but what the profile calls enough" : "")}.",
        ];
        if (source.Ranking is { } ranking)
        {
            lines.Add(ranking.Statement);
            lines.Add("Ranks come from one model of card and board: the unit is the run (runs of one night on one board are one), what boards differ by is taken out, each card's scatter is drawn toward the laboratory's, and two cards differ only by more than q standard errors for all cards together (studentized range). Fewer than three runs, or one night only, is marked provisional. The interval beside a performance is that of the card alone.");
            lines.AddRange(ranking.Enough.Select(e => string.Create(CultureInfo.InvariantCulture, $"More than {e.Enough:0.##} {TrialFigure.UnitOf(e.Kind)} of {MetricBuilder.Name(e.Kind).ToLowerInvariant()} does not count; {Wording.Count(e.Cards.Count, "card is", "cards are")} there.")));
            lines.Add($"Ranked context: {ranking.Context.Text}.");
        }

        lines.Add("Latency percentiles are printed only where enough operations bound them at 95 % (p99: 299, p99.9: 2995), else n/a.");
        if (source.Analysis.WithAll)
        {
            lines.Insert(0, "Figures set aside by a rule were pooled all the same, on request (--with-all).");
        }

        return lines;
    }

    private static string Weight(ProfileMetric metric)
    {
        string unit = TrialFigure.UnitOf(metric.Kind);
        string floor = metric.Floor is double f ? string.Create(CultureInfo.InvariantCulture, $", floor {f:0.##}") : "";
        string enough = metric.Enough is double e ? string.Create(CultureInfo.InvariantCulture, $", enough {e:0.##}") : "";
        return string.Create(CultureInfo.InvariantCulture, $"{MetricBuilder.Name(metric.Kind).ToLowerInvariant()} {metric.Weight * 100:0.#} % (reference {metric.Reference:0.##} {unit}{floor}{enough})");
    }
}
