using System.Globalization;
using Cardassay.Trials;

namespace Cardassay.Collector.Analysis.Figures;

/// <summary>Figures pool only under one key (METHOD rule 0).</summary>
/// <param name="Kind">Trial kind.</param>
/// <param name="BlockBytes">Bytes of one operation.</param>
/// <param name="QueueDepth">Operations in flight.</param>
/// <param name="Context">Everything else.</param>
/// <param name="Variant">What else the kind was told ("70 % read", "extending"); "" for nothing.</param>
public sealed record ComparabilityKey(TrialKind Kind, long BlockBytes, int QueueDepth, MeasuringContext Context, string Variant = "")
{
    /// <summary>The variant of a trial.</summary>
    public static string VariantOf(TrialMeasured trial) => trial switch
    {
        { Kind: TrialKind.Mixed } => string.Create(CultureInfo.InvariantCulture, $"{trial.ReadPercent} % read"),
        { Kind: TrialKind.OpenSegmentWrite } => string.Create(
            CultureInfo.InvariantCulture, $"{trial.OpenSegments} segments of {SizeText(trial.SegmentBytes)}"),
        { Kind: TrialKind.ClassWrite } => $"{Plans.ClassConditions.NameOf(trial.Standard)} class, units of {SizeText(trial.SegmentBytes)}",
        { Standard: not ClassStandard.None } => $"{Plans.ClassConditions.NameOf(trial.Standard)} class",
        { Extending: true } => "extending",
        _ => "",
    };

    /// <summary>The trial's part for people: "random read 4 KiB, depth 1".</summary>
    public string TrialText => $"{Metrics.WordsOf(Kind)} {ParametersText}";

    /// <summary>What the kind was told: "4 KiB, depth 1".</summary>
    public string ParametersText =>
        string.Create(CultureInfo.InvariantCulture, $"{SizeText(BlockBytes)}, depth {QueueDepth}{(Variant.Length > 0 ? ", " + Variant : "")}");

    /// <summary>The whole key for people.</summary>
    public string Text => TrialText + ", " + Context.Text;

    /// <inheritdoc/>
    public override string ToString() => Text;

    private static string SizeText(long bytes) => bytes switch
    {
        >= 1 << 20 when bytes % (1 << 20) == 0 => string.Create(CultureInfo.InvariantCulture, $"{bytes >> 20} MiB"),
        >= 1 << 10 when bytes % (1 << 10) == 0 => string.Create(CultureInfo.InvariantCulture, $"{bytes >> 10} KiB"),
        _ => string.Create(CultureInfo.InvariantCulture, $"{bytes} B"),
    };
}
