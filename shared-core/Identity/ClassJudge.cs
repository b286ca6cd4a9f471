using Cardassay.Plans;
using Cardassay.Registers;
using Cardassay.Trials;
using static System.FormattableString;

namespace Cardassay.Identity;

/// <summary>
/// Judges a mark by class trials. Minimums: SD physical layer specification 4.10, tables 4-56 f. and 4-60 (C, U), and the SD Association's
/// public pages (V, A). A mark is judged only where the standard's condition was kept: the card itself in a slot, a bus the mark is
/// defined on, and the card's own allocation unit. Linux sends no speed class command (CMD20): a card that needs it (SDXC, 4.13.2.8) may
/// fall short here and meet its mark elsewhere, so that its shortfall is stated as what it is. Pure.
/// </summary>
public static class ClassJudge
{
    /// <summary>Fewest trials a judgement rests on (a choice, no source).</summary>
    public const int LeastTrials = 3;

    /// <summary>Runs that must agree before a mark is denied (a choice, no source).</summary>
    private const int RunsToDeny = 2;

    /// <summary>
    /// Minimum of the application classes (SD Association, public pages): operations of 4 KiB per second, and MB/s sustained.
    /// </summary>
    private static readonly (TrialKind Kind, string Words, string Unit, double Floor)[] ApplicationFloors =
    [
        (TrialKind.ClassRandomRead, "random read", "IOPS", 1500),
        (TrialKind.ClassRandomWrite, "random write", "IOPS", 500),
        (TrialKind.ClassWrite, "slowest unit written", "MB/s", 10),
    ];

    /// <summary>The judgement, or null when no class trial was made for the mark's class.</summary>
    public static MarkJudgement? Judge(SpeedMark mark, IReadOnlyList<ClassSample> samples)
    {
        ClassStandard standard = ClassConditions.OfLetter(mark.Kind);
        ClassSample[] own = [.. samples.Where(s => s.Standard == standard)];
        if (own.Length == 0)
        {
            return null;
        }

        if (mark is { Kind: 'V', Level: > 30 })
        {
            return NotJudgeable(mark, "It is defined on the UHS-II bus, which the boards do not have.");
        }

        ClassSample[] fitting = [.. own.Where(s => Obstacle(mark, s) is null)];
        return fitting.Length == 0 ? NotJudgeable(mark, Obstacle(mark, own[0])!)
            : mark.Kind == 'A' ? Application(mark, fitting)
            : Speed(mark, fitting);
    }

    /// <summary>Decimal MB/s a mark of kind C, U or V promises; an application class promises 10 sustained.</summary>
    public static double FloorOf(SpeedMark mark) => mark.Kind switch { 'U' => mark.Level * 10, 'A' => 10, _ => mark.Level };

    private static MarkJudgement NotJudgeable(SpeedMark mark, string why) => new(mark.ToString(), null, why, MarkBasis.NotJudgeable);

    /// <summary>Why the standard's condition was not kept, as a sentence; null when it was.</summary>
    private static string? Obstacle(SpeedMark mark, ClassSample sample)
    {
        if (sample.Target != TargetKind.Device)
        {
            return "A class is defined on the card itself, and a file system lay between; measure the device.";
        }

        if (sample.Attachment != Attachment.Slot)
        {
            return sample.Attachment == Attachment.Reader
                ? "A reader hides the bus of the card; measure in a slot."
                : "The device is no card in a slot.";
        }

        if (sample.Bus.BusMode is not { } mode)
        {
            return "The bus mode is unknown: only root may read it, and the agent's helper did not answer.";
        }

        if (BusCeiling.BytesPerSecond(sample.Bus, out _) / 1e6 is not { } ceiling)
        {
            return $"The bus mode {mode} is not known to this version.";
        }

        if (mark.Kind != 'A' && sample.CountedUnitBytes == 0)
        {
            return "It was measured by an older agent, which counted the first allocation unit and averaged large "
                + "ones whole; measure again.";
        }

        string bus = sample.Bus.BusWidthBits is { } bits ? Invariant($"{mode} with {bits} lines") : mode;

        // C2 to C6 at default speed, C10 at high speed (tables 4-56 f.); U1 and U3 in SDR50, DDR50 or faster (table
        // 4-60): SDR25 is not UHS speed.
        double needed = mark.Kind switch { 'C' => mark.Level >= 10 ? 25 : 12.5, 'U' => 50, _ => FloorOf(mark) };
        if (ceiling < needed || (mark.Kind is 'U' or 'V' && !BusCeiling.IsUhs(mode)))
        {
            return $"The bus ({bus}) is below the condition of the mark.";
        }

        return mark.Kind == 'A' ? null
            : sample.StatedUnitBytes is not { } unit ? "The card does not state the allocation unit the class is defined over."
            : unit != sample.UnitBytes
                ? Invariant($"Units of {ByteText.Of(sample.UnitBytes)} were written, but the card's is {ByteText.Of(unit)}.")
            : null;
    }

    private static MarkJudgement Speed(SpeedMark mark, ClassSample[] samples)
    {
        double floor = FloorOf(mark);
        if (samples.Length < LeastTrials)
        {
            return NotJudgeable(mark, Invariant($"Only {samples.Length} valid trials under its condition; {LeastTrials} are needed."));
        }

        bool? met = Met([.. samples.Select(s => s.Value)], floor);
        string what = samples[0].CountedUnitBytes < samples[0].UnitBytes
            ? Invariant($"part of {ByteText.Of(samples[0].CountedUnitBytes)} of the allocation units of ")
                + Invariant($"{ByteText.Of(samples[0].UnitBytes)}")
            : Invariant($"allocation unit of {ByteText.Of(samples[0].UnitBytes)}");
        string text = Invariant($"The slowest {what} in each of {samples.Length} trials, the first unit left out: {Range(samples)} MB/s, ")
            + Invariant($"required {floor} (bus {samples[0].Bus.BusMode}).");
        if (met != false)
        {
            return new MarkJudgement(mark.ToString(), met, text, MarkBasis.Judged);
        }

        return samples.Any(s => s.LinkErrors > 0)
            ? NotJudgeable(mark, text + " The link between board and card made errors meanwhile, which slow a card down.")
            : WhyUncertain(samples, floor) is { } why
                ? new MarkJudgement(mark.ToString(), false, $"{text} {why}", MarkBasis.AsThisHostCanAsk)
            : new MarkJudgement(mark.ToString(), false, text, MarkBasis.Judged);
    }

    /// <summary>Why a shortfall may not be the card's own, as a sentence; null when nothing else explains it.</summary>
    private static string? WhyUncertain(ClassSample[] samples, double floor) =>
        samples.Any(s => s.Family is not (CardFamily.Sdsc or CardFamily.Sdhc))
            ? "Linux does not send the speed class command after which a card of this kind owes its speed (CMD20)."
        : samples.Any(s => s.LinkErrors is null) ? "This host does not count the errors of the link, which slow a card down."
        : samples.Any(s => s.Fastest <= 0 || s.Fastest >= floor) ? "Other units of the same trials were fast enough."
        : samples.Select(s => s.RunId).Distinct().Count() < RunsToDeny ? "It was seen in one run only; measure once more."
        : null;

    private static MarkJudgement Application(SpeedMark mark, ClassSample[] samples)
    {
        var texts = new List<string>();
        bool? met = true;
        foreach ((TrialKind kind, string words, string unit, double floor) in ApplicationFloors)
        {
            ClassSample[] own = [.. samples.Where(s => s.Kind == kind)];
            if (own.Length < LeastTrials)
            {
                return NotJudgeable(mark,
                    Invariant($"Only {own.Length} valid trials of {TrialKinds.NameOf(kind)} under its condition; ")
                        + Invariant($"{LeastTrials} are needed."));
            }

            texts.Add(Invariant($"{words} {Range(own)} {unit} in {own.Length} trials, required {floor}"));
            bool? one = Met([.. own.Select(s => s.Value)], floor);
            met = met == false || one == false ? false : met is null || one is null ? null : true;
        }

        string figures = string.Join("; ", texts);

        // A2 needs the card's command queue, its cache and maintenance on the host (SD Association, public pages). No file of the kernel
        // says that the host uses them, so only what A2 includes, the floors of A1, can be looked at.
        return mark.Level >= 2
            ? new MarkJudgement(
                mark.ToString(), met == false ? false : null,
                "A2 needs the command queue and cache of the card on the host, which no host shows; against the floors of A1: "
                    + figures + ".",
                met == false ? MarkBasis.ConditionFromMemory : MarkBasis.NotJudgeable)
            : new MarkJudgement(
                mark.ToString(), met,
                figures + ". The condition (256 MiB, 4 KiB, one at a time, written before) is from memory, so this states no class.",
                MarkBasis.ConditionFromMemory);
    }

    private static bool? Met(double[] values, double floor) =>
        values.All(v => v >= floor) ? true : values.All(v => v < floor) ? false : null;

    private static string Range(ClassSample[] samples) => Invariant($"{samples.Min(s => s.Value):0.0} to {samples.Max(s => s.Value):0.0}");
}
