using System.Globalization;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Ranking;
using Cardassay.Collector.Report.Model;
using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Collector.Report.Building;

/// <summary>One card of the report.</summary>
internal static class CardBuilder
{
    private static readonly Verdict Unjudged = new(VerdictKind.NotProven, ["Nothing has judged this card yet."]);

    /// <summary>The card with everything that is known of it: its trials are read.</summary>
    public static ReportCard Whole(ReportSource source, CardResult card)
    {
        ReportCard brief = Build(source, card);
        var trials = new CardTrials(source, card);
        MetricSummary[] series = MetricBuilder.InOrder(source, card);
        ReportMetric[] measured = [.. series.Where(s => s.Interval is not null).Select(s => MetricBuilder.Whole(source, card, s))];
        PointsPicture[] pictures =
            [.. new[] { TrialPictures.Stalls(trials, series), TrialPictures.Heat(trials, series) }.OfType<PointsPicture>()];
        return brief with
        {
            IsShort = false,
            Metrics = MetricBuilder.Together(measured, HandKept(source, card)),
            Behaviour = [.. BehaviourBuilder.Of(source, card, trials), .. pictures.Select(p => p.Text)],
            TrialPictures = pictures,
            Trend = CardTrend.Of(source, card, series),
            Uncounted = [.. series.Where(s => s.Interval is null).SelectMany(s => MetricBuilder.Uncounted(source, card, s))],
            Latencies = LatencyBuilder.Latencies(trials, series),
            Timelines = LatencyBuilder.Timelines(trials, series),
            Runs = [.. card.Runs.Select(r => RunBuilder.Build(source, r, trials)).OfType<ReportRun>()],
        };
    }

    /// <summary>The card in short: verdict, evidence, figures and rank, without a look at its trials.</summary>
    public static ReportCard Build(ReportSource source, CardResult card)
    {
        CardStanding? standing = source.Standing(card.Name);
        Verdict verdict = standing?.Verdict ?? Unjudged;
        RankedCard? ranked = source.Ranked(card.Name);
        ReportFinding[] findings = Findings(card, standing);
        MetricSummary[] series = MetricBuilder.InOrder(source, card);
        ReportMetric[] measured = [.. series.Where(s => s.Interval is not null).Select(s => MetricBuilder.Build(source, card, s))];
        SeenIdentity? identity = card.Identities.Count > 0 ? card.Identities[^1] : null;
        return new ReportCard
        {
            IsShort = true,
            Name = card.Name,
            Tag = card.Tag,
            Identity = identity?.Text,
            IdentityFromRegisters = identity?.FromRegisters ?? false,
            Title = ReportSource.Title(card),
            Product = ReportSource.Product(card.Claim),
            IsReference = card.Claim?.IsReference ?? false,
            Condition = card.Claim?.Condition switch { CardCondition.New => "new", CardCondition.Used => "used", _ => "new or used not stated" },
            Price = Price(card.Claim),
            Offer = Offer(card.Claim, source.Data.AsOf),
            Revision = Revision(standing?.Facts),
            IsFixedDisk = card.IsOwnDisk,
            Invented = card.Invented,
            VerdictKind = verdict.Kind,
            Verdict = verdict.Words,
            VerdictBasis = verdict.Basis ?? "",
            VerdictMissing = verdict.Missing,
            Rank = ranked is null ? null : new ReportRank(ranked.Best, ranked.Worst, source.Ranking!.Cards.Count, ranked.Group, ranked.IsProvisional),
            Unranked = ranked is null ? Unranked(source, card) : "",
            Composite = ranked is null ? null : Composite(ranked),
            Floors = ranked is null ? "" : Floors(ranked),
            ClaimLines = ClaimLines.Build(card, DiskBytes(source, card), standing, measured, findings),
            Marks = [.. card.Marks.Select(m => new ReportMark(m.Mark, m.IsClaimed, m.Judgement.Outcome, m.Judgement.Statement, m.Text))],
            Findings = findings,
            Metrics = MetricBuilder.Together(measured, HandKept(source, card)),
            StallNote = StallNote(series),
            NotCounted = [.. series.Where(s => s.Interval is null).Select(MetricBuilder.NotCounted)],
            Capacity = standing?.Capacity,
            Runs = [.. card.Runs.Select(r => RunBuilder.Build(source, r, null)).OfType<ReportRun>()],
            WrittenGigabytes = Figure.Of(card.WrittenBytes / 1e9, 2),
        };
    }

    private static ReportMetric[] HandKept(ReportSource source, CardResult card) =>
        [.. MetricBuilder.HandKept(card.Tag is null ? [] : source.HandKept[card.Tag])];

    /// <summary>Stalls that trials watched for, of the worst kind; empty where none was seen.</summary>
    private static string StallNote(IEnumerable<MetricSummary> series)
    {
        var worst = MetricBuilder.Leading(series).SelectMany(s => s.Stalls.Select(stalls => (s.Kind, Stalls: stalls)))
            .Where(s => s.Stalls is { Count: > 0, LimitNs: > 0 }).OrderByDescending(s => s.Stalls.LongestNs).FirstOrDefault();
        return worst.Stalls is not { } stalls ? "" : string.Create(
            CultureInfo.InvariantCulture,
            $"{Wording.Count(stalls.Count, "stall", "stalls")} over {Figure.Of(stalls.LimitNs / 1e6, 0).Text} ms, "
                + $"{LatencyBuilder.NameOf(worst.Kind, stalls.IsRead).ToLowerInvariant()}, longest {LatencyBuilder.Ms(stalls.LongestNs).Text} ms");
    }

    /// <summary>Performance under the profile as printed.</summary>
    public static ReportComposite Composite(RankedCard card) => new(
        Figure.Of(card.Composite, 2), Figure.Of(card.Low, 2), Figure.Of(card.High, 2), card.Runs, card.HasInterval,
        card.HasInterval ? "95 % interval of this card alone" : "no interval: how far its figures scatter is not known");

    private static long? DiskBytes(ReportSource source, CardResult card) =>
        card.Runs.Select(r => source.Run(r.Key)?.Card?.DiskBytes).LastOrDefault(bytes => bytes is > 0);

    private static ReportFinding[] Findings(CardResult card, CardStanding? standing)
    {
        // The caller may have handed the standing's findings to the analysis as well; each is shown once.
        List<Finding> all = [.. card.Findings.Select(f => f.Finding)];
        all.AddRange((standing?.Findings ?? []).Where(f => !all.Any(known => known.Id == f.Id && known.Text == f.Text)));
        return [.. all.Select(ReportFinding.From).OrderBy(First.Telling.Weight)];
    }

    private static string? Price(Claim? claim)
    {
        if (claim?.Price is not decimal price)
        {
            return null;
        }

        string date = claim.PriceDate is DateOnly day ? " on " + Wording.Day(day) : "";
        return $"{price.ToString("0.00##", CultureInfo.InvariantCulture)} {claim.Currency ?? "in an unnamed currency"}{date}";
    }

    /// <summary>Where the card was bought and for how much.</summary>
    public static Offer Offer(Claim? claim, DateTimeOffset asOf) => new(
        claim?.Price, claim?.Currency,
        claim?.PriceDate is DateOnly day ? Math.Max(0, DateOnly.FromDateTime(asOf.UtcDateTime).DayNumber - day.DayNumber) : null, claim?.Purchased, claim?.BoughtAt);

    private static ReportRevision? Revision(CardFacts? facts) => facts?.ManufacturerId is not int maker ? null : new ReportRevision(
        string.Create(CultureInfo.InvariantCulture, $"0x{maker:x2} {facts.ProductName} {facts.ProductRevision}")
            + (facts.CapacityBytes is long bytes ? $", {Figure.Of(bytes / 1e9, 2).Text} GB" : ""),
        facts.Manufactured?.ToString() ?? "");

    private static string Unranked(ReportSource source, CardResult card)
    {
        if (card.IsOwnDisk)
        {
            return "a computer's own disk, no card";
        }

        if (source.Ranking is null)
        {
            return card.Metrics.Count == 0 ? "never measured" : $"no card has all the figures the profile {source.Analysis.Profile.Name} needs";
        }

        if (source.Unranked(card.Name) is { } lacking)
        {
            return "lacks " + string.Join(" and ", lacking.Missing.Select(k => MetricBuilder.Name(k).ToLowerInvariant()));
        }

        return card.Metrics.Count == 0
            ? "never measured"
            : string.Join(", ", card.Metrics.Select(m => m.Key.Context.DiffersFrom(source.Ranking.Context)).MinBy(d => d.Count)!);
    }

    private static string Floors(RankedCard card)
    {
        FloorCheck[] open = [.. card.FloorChecks.Where(f => f.State == card.Floors && f.State != FloorState.Pass)];
        string which = string.Join(", ", open.Select(f => string.Create(
            CultureInfo.InvariantCulture, $"{MetricBuilder.Name(f.Kind).ToLowerInvariant()} {f.Floor:0.##} {TrialFigure.UnitOf(f.Kind)}")));
        return card.Floors switch
        {
            FloorState.Pass => card.FloorChecks.Count > 0 ? "floors reached" : "",
            FloorState.Fail => ReportCard.FloorsMissed + which,
            _ => "floors undecided: " + which,
        };
    }
}
