using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Analysis.Ranking;
using Cardassay.Identity;
using Cardassay.Trials;
using static System.FormattableString;

namespace Cardassay.Collector.Analysis.Explaining;

/// <summary>Lists the runs behind every figure and finding of a card, the rules, and what was set aside and why, down to the record keys.</summary>
public static class Explain
{
    /// <summary>The explanation of a card, or null when there is no card of that name or tag.</summary>
    /// <param name="result">The analysis.</param>
    /// <param name="nameOrTag">Name or tag.</param>
    public static Explanation? For(AnalysisResult result, string nameOrTag)
    {
        if (result.Card(nameOrTag) is not { } card)
        {
            return null;
        }

        var lines = new List<ExplanationLine>();
        AddCard(lines, card);
        AddFindings(lines, card);
        AddMarks(lines, card);
        foreach (MetricSummary metric in card.Metrics)
        {
            AddMetric(lines, metric, result.WithAll);
        }

        foreach (RankingTable table in result.Rankings)
        {
            AddRank(lines, table, result.Profile, card.Name);
        }

        AddRuns(lines, card);
        return new Explanation(card.Name, lines);
    }

    private static void AddCard(List<ExplanationLine> lines, CardResult card)
    {
        Add(lines, 0, "Card " + card.Name);
        Add(lines, 1, card.Claim is { } claim ? $"Claimed{At(card.ClaimOrigin)}: " + ClaimText(claim) : "Nobody said what it is.");
        if (card.OtherStickers.Count > 0)
        {
            Add(lines, 1, $"Also {string.Join(", ", card.OtherStickers)}: one card by a person's word or by its registers.");
        }

        foreach (CollectorClaim other in card.OtherClaims)
        {
            Add(lines, 1, $"Claimed{At(other.Collector)} as well, which does not count here: {ClaimText(other.Claim)}");
        }

        foreach (SeenIdentity identity in card.Identities)
        {
            Add(lines, 1, $"Identity {identity.Text} {(identity.FromRegisters ? "from its registers" : "without registers")}", identity.Runs);
        }
    }

    private static string At(string collector) => collector.Length == 0 ? "" : $" at collector {collector}";

    /// <summary>A claim in a line.</summary>
    internal static string ClaimText(Claim claim)
    {
        string?[] parts =
        [
            claim.Maker, claim.Product, claim.LabelGigabytes is { } gb ? Invariant($"{gb:0.##} GB") : null,
            claim.Marks is { Count: > 0 } marks ? string.Join(' ', marks) : null,
            claim.Price is { } price ? Invariant($"{price:0.00} {claim.Currency}") : null,
            claim.Condition switch { CardCondition.New => "new", CardCondition.Used => "used", _ => null },
            claim.IsReference == true ? "reference card" : null,
        ];
        return string.Join(", ", parts.OfType<string>().DefaultIfEmpty("nothing but the tag"));
    }

    private static void AddFindings(List<ExplanationLine> lines, CardResult card)
    {
        Add(lines, 0, card.Findings.Count == 0 ? "No findings" : "Findings");
        foreach (CardFinding finding in card.Findings)
        {
            Add(lines, 1, $"{finding.Finding.Severity.ToString().ToLowerInvariant()}: {finding.Finding.Text}", finding.Records);
            Add(lines, 2, $"rule {finding.Finding.Id}; source: {finding.Finding.Source}");
            foreach (FindingValue value in finding.Finding.Values)
            {
                Add(lines, 2, $"{value.Name}: {value.Value}");
            }

            if (finding.Finding.Settles is { } settles)
            {
                Add(lines, 2, "what would settle it: " + settles);
            }
        }
    }

    private static void AddMarks(List<ExplanationLine> lines, CardResult card)
    {
        if (card.Marks.Count > 0)
        {
            Add(lines, 0, "Marks");
        }

        foreach (MeasuredMark mark in card.Marks)
        {
            Add(lines, 1, $"{mark.Mark}: {mark.Judgement.Outcome}, {mark.Judgement.Statement}. {mark.Text}");
        }
    }

    private static void AddMetric(List<ExplanationLine> lines, MetricSummary metric, bool withAll)
    {
        Add(lines, 0, metric.Key.Text);
        if (metric.Interval is { } interval)
        {
            string bounds = interval.IsRangeOnly
                ? Invariant($"range {TrialFigure.Text(interval.Low)} to {TrialFigure.Text(interval.High)} (covers the median with {100 * interval.Level:0.00} %, too little for an interval)")
                : Invariant($"interval {TrialFigure.Text(interval.Low)} to {TrialFigure.Text(interval.High)}, values {interval.LowRank} and {interval.HighRank} of {interval.N} in order of size (exact binomial, {100 * interval.Level:0.00} %)");
            Add(lines, 1, $"median {TrialFigure.Text(interval.Median)} {metric.Unit}, {bounds}{(withAll ? ", values set aside included" : "")}");
            Add(lines, 1, Invariant($"half width {100 * interval.RelativeHalfWidth:0.0} % of the median: {(metric.Settled ? "settled" : "not settled")} (limit {100 * metric.SettledLimit:0} %)"));
            if (metric.MedianWithoutOutliers is { } without)
            {
                Add(lines, 1, $"median without the flagged values {TrialFigure.Text(without)} {metric.Unit}");
            }
        }

        foreach (MetricValue value in metric.Values)
        {
            Add(lines, 2, ValueText(value, metric.Unit) + (value.IsOutlier ? ", flagged as an outlier and kept" : ""), [value.Record]);
        }

        foreach (SetAsideValue aside in metric.SetAside)
        {
            string reasons = aside.Reasons.Count == 0 ? "" : " " + string.Join(' ', aside.Reasons);
            Add(lines, 2, $"set aside by {SetAsideRules.IdOf(aside.Rule)}: {ValueText(aside.Value, metric.Unit)}. {SetAsideRules.SentenceOf(aside.Rule)}{reasons}", [aside.Value.Record]);
        }
    }

    private static string ValueText(MetricValue value, string unit) => Invariant(
        $"{TrialFigure.Text(value.Value)} {unit} on {value.Board}, night of {value.Night:yyyy-MM-dd}, repetition {value.Repetition}, run {value.Run}");

    private static void AddRank(List<ExplanationLine> lines, RankingTable table, UseProfile profile, string name)
    {
        RankedCard? row = table.Cards.FirstOrDefault(c => c.Name == name);
        UnrankedCard? unranked = table.Unranked.FirstOrDefault(u => u.Name == name);
        if (row is null && unranked is null)
        {
            return;
        }

        Add(lines, 0, $"Rank for {profile.Name}, {table.Context.Text}");
        if (row is null)
        {
            Add(lines, 1, "Not ranked: no " + string.Join(", no ", unranked!.Missing.Select(TrialKinds.NameOf)) + ".");
            return;
        }

        string rank = row.Best == row.Worst ? Invariant($"rank {row.Best}") : Invariant($"ranks {row.Best} to {row.Worst}");
        string mark = row.IsHandKept ? ", provisional: figures written down by hand" : row.IsProvisional ? Invariant($", provisional: {row.Runs} run{(row.Runs == 1 ? "" : "s")} in {row.Nights} night{(row.Nights == 1 ? "" : "s")}") : "";
        Add(lines, 1, Invariant($"{rank} of {table.Cards.Count}, group {row.Group}{mark}"));
        Add(lines, 1, table.Statement);
        Add(lines, 1, row.HasInterval
            ? Invariant($"composite {row.Composite:0.000} [{row.Low:0.000}, {row.High:0.000}] (95 % for this card alone), {row.Runs} runs in {row.Nights} nights on {row.Boards} board{(row.Boards == 1 ? "" : "s")}")
            : Invariant($"composite {row.Composite:0.000}; how far its figures scatter is not known"));
        for (int i = 0; i < profile.Metrics.Count; i++)
        {
            ProfileMetric metric = profile.Metrics[i];
            Add(lines, 2, Invariant($"{TrialKinds.WordsOf(metric.Kind)} {TrialFigure.Text(row.Figures[i])}, reference {metric.Reference}, weight {metric.Weight}, ratio {Math.Exp(profile.LogRatio(i, row.Figures[i])):0.000}{(metric.Enough is { } enough ? Invariant($" (enough at {enough})") : "")}"));
        }

        foreach (FloorCheck floor in row.FloorChecks)
        {
            Add(lines, 2, $"floor {TrialFigure.Text(floor.Floor)} in {TrialKinds.WordsOf(floor.Kind)}: {floor.State.ToString().ToLowerInvariant()}, bounds {TrialFigure.Text(floor.Low)} to {TrialFigure.Text(floor.High)}");
        }

        Add(lines, 2, Invariant($"under {Sensitivity.Draws} draws of the weights (seed {table.SensitivitySeed}) its point value ranks {row.SensitivityBest} to {row.SensitivityWorst}"));
        NeighbourLines.Add(lines, table, profile, name);
    }

    private static void AddRuns(List<ExplanationLine> lines, CardResult card)
    {
        Add(lines, 0, "Runs");
        foreach (RunUse run in card.Runs)
        {
            string aside = run.Rule is { } rule ? $"set aside: {SetAsideRules.SentenceOf(rule)}" : Invariant($"{run.Pooled} figures pooled, {run.SetAside.Count} set aside");
            Add(lines, 1, Invariant($"run {run.Run} on {run.Board}{(run.Origin.Length == 0 ? "" : $", from collector {run.Origin}")}, night of {run.Night:yyyy-MM-dd}, {run.Outcome?.ToString().ToLowerInvariant() ?? "not closed"}; {aside}"), [run.Key]);
        }
    }

    private static void Add(List<ExplanationLine> lines, int depth, string text, IReadOnlyList<RecordKey>? records = null) =>
        lines.Add(new ExplanationLine(depth, text, records ?? []));
}
