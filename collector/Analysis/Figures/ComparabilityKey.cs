using System.Globalization;
using Cardassay.Judging;
using Cardassay.Trials;

namespace Cardassay.Collector.Analysis.Figures;

/// <summary>Figures pool only under one key (METHOD rule 0).</summary>
/// <param name="Kind">Trial kind.</param>
/// <param name="BlockBytes">Bytes of one operation.</param>
/// <param name="QueueDepth">Operations in flight.</param>
/// <param name="Context">Everything else.</param>
/// <param name="Variant">What else the kind was told ("70 % read", "extending"); "" for nothing.</param>
/// <param name="Range">The part of the card.</param>
/// <param name="Fill">How much of the card had been written before.</param>
public sealed record ComparabilityKey(
    TrialKind Kind, long BlockBytes, int QueueDepth, MeasuringContext Context, string Variant = "", AddressRange Range = default, CardFill Fill = CardFill.NotMeasured)
{
    private const string FirstPass = "first pass after writing";
    private const string AfterRest = "after a rest";

    /// <summary>True for the reads of places just written, which some cards answer more slowly; never what a rank stands on.</summary>
    public bool IsFirstPass => IsFirstPassOf(Variant);

    /// <summary>True for the part of a long write that follows its rest; never what stands for the kind.</summary>
    public bool IsRecovery => Variant == AfterRest;

    /// <summary>True for what is shown beside the kind's own figures and never stands for it.</summary>
    public bool IsAside => IsFirstPass || IsRecovery;

    /// <summary>True for the variant of such reads.</summary>
    public static bool IsFirstPassOf(string variant) => variant == FirstPass;

    /// <summary>The variant of a trial.</summary>
    public static string VariantOf(TrialMeasured trial) => trial switch
    {
        { Kind: TrialKind.Mixed } => string.Create(CultureInfo.InvariantCulture, $"{trial.ReadPercent} % read"),
        { Kind: TrialKind.OpenSegmentWrite } => string.Create(
            CultureInfo.InvariantCulture, $"{trial.OpenSegments} segments of {SizeText(trial.SegmentBytes)}"),
        { Kind: TrialKind.ClassWrite } => $"{Plans.ClassConditions.NameOf(trial.Standard)} class, units of {SizeText(trial.SegmentBytes)}",
        { Standard: not ClassStandard.None } => $"{Plans.ClassConditions.NameOf(trial.Standard)} class",
        { Extending: true } => "extending",
        { Pass: 1 } => FirstPass,
        { Recovery: true } => AfterRest,
        _ => "",
    };

    /// <summary>The trial's part for people: "random read 4 KiB, depth 1".</summary>
    public string TrialText => $"{TrialKinds.WordsOf(Kind)} {ParametersText}";

    /// <summary>What the kind was told: "4 KiB, depth 1".</summary>
    public string ParametersText =>
        string.Create(CultureInfo.InvariantCulture, $"{SizeText(BlockBytes)}, depth {QueueDepth}{After(Variant)}{After(Range.Text)}");

    /// <summary>The whole key for people.</summary>
    public string Text => $"{TrialKinds.WordsOf(Kind)} {ConditionsText}";

    /// <summary>All but the kind, for people: "4 KiB, depth 1, whole card, plan system-disk 2, device in a slot, sd uhs SDR104, new card, written whole before".</summary>
    public string ConditionsText => $"{ParametersText}, {Context.Text}{After(CardFills.TextOf(Fill))}";

    /// <summary>The key with the card's state left aside, for what knows nothing of it: the boards, and a card beside itself.</summary>
    public ComparabilityKey StateAside() => this with { Context = Context with { State = Identity.CardCondition.Unknown } };

    /// <summary>Of what keys mostly differ in: an analysis looks up keys by the ten thousand.</summary>
    public override int GetHashCode() => HashCode.Combine((int)Kind, BlockBytes, QueueDepth, Range.LengthBytes, Variant.Length, (int)Fill, Context);

    /// <inheritdoc/>
    public override string ToString() => Text;

    private static string After(string text) => text.Length > 0 ? ", " + text : "";

    private static string SizeText(long bytes) => bytes switch
    {
        >= 1 << 20 when bytes % (1 << 20) == 0 => string.Create(CultureInfo.InvariantCulture, $"{bytes >> 20} MiB"),
        >= 1 << 10 when bytes % (1 << 10) == 0 => string.Create(CultureInfo.InvariantCulture, $"{bytes >> 10} KiB"),
        _ => string.Create(CultureInfo.InvariantCulture, $"{bytes} B"),
    };
}
