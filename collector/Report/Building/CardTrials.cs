using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Trials;

namespace Cardassay.Collector.Report.Building;

/// <summary>The trials of one card, read for a report that shows the card whole.</summary>
internal sealed class CardTrials
{
    private readonly Dictionary<RecordKey, IReadOnlyList<TrialRecord>> _runs = [];
    private readonly Dictionary<RecordKey, TrialMeasured> _trials = [];

    public CardTrials(ReportSource source, CardResult card)
    {
        foreach (RunRecord run in card.Runs.Select(use => source.Run(use.Key)).OfType<RunRecord>())
        {
            IReadOnlyList<TrialRecord> trials = run.Trials;
            _runs[run.Key] = trials;
            foreach (TrialRecord trial in trials)
            {
                _trials[trial.Key] = trial.Trial;
            }
        }
    }

    /// <summary>Those of a run, by index.</summary>
    public IReadOnlyList<TrialRecord> Of(RunRecord run) => _runs[run.Key];

    /// <summary>Those whose figures count in a series.</summary>
    public TrialMeasured[] Of(MetricSummary series) => [.. series.Values.Select(v => Of(v.Record)).OfType<TrialMeasured>()];

    /// <summary>That of a record; null where there is none.</summary>
    public TrialMeasured? Of(RecordKey record) => _trials.GetValueOrDefault(record);
}
