using Cardassay.Collector.Analysis.Cards;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Identity;
using Cardassay.Plans;
using Cardassay.Registers;

namespace Cardassay.Collector.Analysis.CrossChecks;

/// <summary>The class trials of a card, and the marks its registers declare where there are any.</summary>
internal static class ClassTrials
{
    public static (IReadOnlyList<ClassSample> Samples, IReadOnlyList<string> Declared) Of(CardSource source)
    {
        var samples = new List<ClassSample>();
        var declared = new List<string>();
        var seen = new HashSet<Trials.RunId>();
        foreach (RunRecord run in source.Runs.Where(r => r.Trials.Any(t => PlanKinds.IsClass(t.Trial.Kind)) && seen.Add(r.Opened.RunId)))
        {
            Reading<SdStatus> status = run.Card is null ? default : CardRegisters.From(run.Card).Status;
            SdStatus? known = status.IsKnown ? status.Value : null;
            samples.AddRange(run.Trials.Where(t => TrialScreen.RuleFor(run.Opened, t.Trial) is null)
                .Select(t => ClassSample.Of(t.Trial, run.Opened.Target, run.Opened.Attachment, known)).OfType<ClassSample>());
            declared.AddRange(known is null ? [] : SpeedMark.DeclaredBy(known).Select(mark => mark.ToString()));
        }

        return (samples, [.. declared.Distinct()]);
    }
}
