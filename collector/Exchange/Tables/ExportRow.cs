using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Trials;

namespace Cardassay.Collector.Exchange.Tables;

/// <summary>One figure of the master data set: a trial, or a figure kept by hand.</summary>
/// <param name="Card">The card.</param>
/// <param name="Kind">Trial kind.</param>
/// <param name="Figure">In the unit of the metric.</param>
/// <param name="Night">Night it counts for, or null for a figure kept by hand without a day.</param>
/// <param name="Run">The run, or null for a figure kept by hand.</param>
/// <param name="Trial">The trial and its record, or null for a figure kept by hand.</param>
/// <param name="SetAside">The rule by which the figure does not count; null when it does.</param>
/// <param name="Provenance">Where a figure kept by hand comes from; "" for a measured one.</param>
internal sealed record ExportRow(CardResult Card, TrialKind Kind, double Figure, DateOnly? Night, RunRecord? Run, TrialRecord? Trial, SetAsideRule? SetAside, string Provenance)
{
    /// <summary>Every figure: measured ones by card, run and trial, then those kept by hand.</summary>
    internal static IReadOnlyList<ExportRow> Of(MasterData data, AnalysisResult analysis)
    {
        Dictionary<RecordKey, RunRecord> runs = data.Runs.ToDictionary(r => r.Key);
        ILookup<string, HandKeptResult> handKept = data.HandKept.ToLookup(h => h.Tag, StringComparer.Ordinal);
        var rows = new List<ExportRow>();
        foreach (CardResult card in analysis.Cards)
        {
            Dictionary<RecordKey, SetAsideRule> aside = [];
            foreach (SetAsideValue value in card.Metrics.SelectMany(m => m.SetAside).Concat(card.Runs.SelectMany(r => r.SetAside)))
            {
                aside[value.Value.Record] = value.Rule;
            }

            HashSet<RecordKey> counted = [.. card.Metrics.SelectMany(m => m.Values).Select(v => v.Record)];
            foreach (RunUse use in card.Runs)
            {
                RunRecord run = runs[use.Key];
                foreach (TrialRecord trial in run.Trials)
                {
                    SetAsideRule? rule = counted.Contains(trial.Key) ? null : aside.TryGetValue(trial.Key, out SetAsideRule known) ? known : use.Rule ?? SetAsideRule.NoFigure;
                    rows.Add(new ExportRow(card, trial.Trial.Kind, TrialFigure.Of(trial.Trial), use.Night, run, trial, rule, ""));
                }
            }

            rows.AddRange((card.Tag is null ? [] : handKept[card.Tag]).Select(h => new ExportRow(card, h.Kind, h.Value, h.Day, null, null, null, h.Provenance)));
        }

        return rows;
    }
}
