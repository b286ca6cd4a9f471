using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Judging;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Collector.Report.Building;

/// <summary>What trials that are made once in a run say of a card beyond their figure, as sentences.</summary>
internal static class BehaviourBuilder
{
    private const int RunsShown = 3;

    /// <summary>The sentences of the latest runs that have such a trial, oldest first.</summary>
    public static IReadOnlyList<string> Of(ReportSource source, CardResult card, CardTrials trials) =>
    [
        .. card.Runs.Where(use => use.Rule is null).Select(use => source.Run(use.Key)).OfType<RunRecord>()
            .Select(run => OfRun(run, trials.Of(run))).Where(sentences => sentences.Count > 0).TakeLast(RunsShown).SelectMany(sentences => sentences),
    ];

    private static IReadOnlyList<string> OfRun(RunRecord run, IReadOnlyList<TrialRecord> trials)
    {
        // Most runs have neither, and there may be many: only then is their plan read again.
        bool hasLongWrite = trials.Any(IsLongWrite);
        Plan? plan = hasLongWrite || trials.Count(t => t.Trial.Role == TrialRole.WarmUp) >= SteadyState.WindowRounds ? PlanOf(run.Opened) : null;
        string where = $"{RunBuilder.When(run)} on {run.Board}: ";
        List<string> sentences = hasLongWrite ? [where + LongWrite(run, trials, plan)] : [];
        sentences.AddRange((plan?.Steps ?? []).Where(step => step.UntilSteady > 0).Select(step => Steady(run, trials, step)).OfType<string>().Select(text => where + text));
        return sentences;
    }

    /// <summary>What the rounds until the steady state say: warm-up trials of the step that follow each other from the first; null without any.</summary>
    private static string? Steady(RunRecord run, IReadOnlyList<TrialRecord> trials, PlanStep step)
    {
        var rounds = new List<TrialMeasured>();
        foreach (TrialMeasured trial in trials.Select(t => t.Trial).Where(t =>
            t.Role == TrialRole.WarmUp && t.Kind == step.Kind && t.BlockBytes == step.BlockBytes && t.QueueDepth == step.QueueDepth))
        {
            if (trial.Repetition != rounds.Count + 1 || (rounds.Count > 0 && (trial.Index != rounds[^1].Index + 1 || trial.RangeBytes != rounds[0].RangeBytes)))
            {
                break;
            }

            rounds.Add(trial);
        }

        if (rounds.Count == 0)
        {
            return null;
        }

        // The role alone sets a round aside; whatever else would spoils what it says of the card.
        double[] figures = [.. rounds.Where(t => TrialScreen.RuleFor(run.Opened, t with { Role = TrialRole.Measured }) is null).Select(TrialFigure.Of)];
        string place = AddressRange.Of(rounds[0], run.Opened.Target == TargetKind.Device ? run.Opened.TargetBytes : 0).Text;
        return SteadyStatement.Of(TrialKinds.WordsOf(step.Kind), place, TrialFigure.UnitOf(step.Kind), figures, rounds.Sum(t => t.WrittenBytes), rounds[0].RangeBytes);
    }

    private static bool IsLongWrite(TrialRecord record) => record.Trial is { Kind: TrialKind.Cliff, Recovery: false };

    private static string LongWrite(RunRecord run, IReadOnlyList<TrialRecord> trials, Plan? plan)
    {
        TrialMeasured write = trials.First(IsLongWrite).Trial;
        if (TrialScreen.RuleFor(run.Opened, write) is { } rule)
        {
            return $"The long write says nothing of the card. {SetAsideRules.SentenceOf(rule)}";
        }

        TrialMeasured? recovery = trials.Select(t => t.Trial).FirstOrDefault(
            t => t is { Kind: TrialKind.Cliff, Recovery: true } && TrialScreen.RuleFor(run.Opened, t) is null);
        return CliffStatement.Of(write, recovery, plan?.Cliff?.RestSeconds);
    }

    /// <summary>The plan of a run; null when its text is not one this version reads.</summary>
    private static Plan? PlanOf(RunOpened opened)
    {
        try
        {
            return PlanReader.Parse(opened.PlanText, opened.PlanName);
        }
        catch (PlanException)
        {
            return null;
        }
    }
}
