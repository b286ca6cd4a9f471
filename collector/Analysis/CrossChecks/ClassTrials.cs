using Cardassay.Collector.Analysis.Cards;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Identity;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Collector.Analysis.CrossChecks;

/// <summary>The class trials of a card, and the marks its registers declare where there are any.</summary>
internal static class ClassTrials
{
    public static (IReadOnlyList<ClassSample> Samples, IReadOnlyList<string> Declared) Of(CardSource source)
    {
        var samples = new List<ClassSample>();
        var declared = new List<string>();
        var seen = new HashSet<Trials.RunId>();
        foreach (RunRecord run in source.Runs.Where(r => r.Figures.HasClass && seen.Add(r.Opened.RunId)))
        {
            CardRegisters? registers = run.Card is null ? null : CardRegisters.From(run.Card);
            samples.AddRange(run.Trials.Where(t => TrialScreen.RuleFor(run.Opened, t.Trial) is null)
                .Select(t => ClassSample.Of(t.Trial, run.Opened.Target, run.Opened.Attachment, registers)).OfType<ClassSample>());
            declared.AddRange(registers?.Status.Value is not { } status ? [] : SpeedMark.DeclaredBy(status).Select(mark => mark.ToString()));
        }

        return (samples, [.. declared.Distinct()]);
    }
}
