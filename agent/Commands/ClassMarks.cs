using Cardassay.Identity;
using Cardassay.Plans;
using Cardassay.Registers;
using Cardassay.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>What the class trials of one run say of the card's marks: a preview, judged by the code the collector uses.</summary>
internal static class ClassMarks
{
    /// <summary>
    /// A judgement for every mark the card declares of a class that was measured; where it declares none, for
    /// the lowest mark of that class.
    /// </summary>
    public static IReadOnlyList<MarkJudgement> Of(RunResult result)
    {
        CardRegisters? registers = result.Card is { } card ? CardRegisters.From(card.Files, card.DiskBytes, card.Attachment) : null;
        SdStatus? status = registers?.Status.Value;
        ClassSample[] samples =
        [
            .. result.Trials.Select(t => ClassSample.Of(t, result.Target.Kind, result.Target.Attachment, registers)).OfType<ClassSample>(),
        ];
        IReadOnlyList<SpeedMark> declared = status is null ? [] : SpeedMark.DeclaredBy(status);
        return
        [
            .. samples.Select(s => s.Standard).Distinct()
                .Select(standard => ClassConditions.LetterOf(standard))
                .SelectMany(letter => declared.Any(m => m.Kind == letter) ? declared.Where(m => m.Kind == letter) : [Lowest(letter)])
                .Select(mark => ClassJudge.Judge(mark, samples)).OfType<MarkJudgement>(),
        ];
    }

    private static SpeedMark Lowest(char letter) =>
        SpeedMark.TryParse(SpeedMark.Known.First(mark => mark[0] == letter), out SpeedMark mark) ? mark : default;
}
