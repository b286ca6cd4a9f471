using System.Globalization;
using Cardassay.Trials;

namespace Cardassay.Collector.Analysis.Figures;

/// <summary>Figures pool only under one key (METHOD rule 0).</summary>
/// <param name="Kind">Trial kind.</param>
/// <param name="BlockBytes">Bytes of one operation.</param>
/// <param name="QueueDepth">Operations in flight.</param>
/// <param name="Context">Everything else.</param>
public sealed record ComparabilityKey(TrialKind Kind, long BlockBytes, int QueueDepth, MeasuringContext Context)
{
    /// <summary>The trial's part for people: "randomRead 4 KiB, depth 1".</summary>
    public string TrialText => string.Create(CultureInfo.InvariantCulture, $"{Metrics.NameOf(Kind)} {SizeText(BlockBytes)}, depth {QueueDepth}");

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
