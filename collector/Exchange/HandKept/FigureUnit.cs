using Cardassay.Collector.Analysis.Figures;
using Cardassay.Trials;

namespace Cardassay.Collector.Exchange.HandKept;

/// <summary>Units a figure may be written in, and how they become the unit of its metric.</summary>
internal static class FigureUnit
{
    /// <summary>Bytes of one operation when a random figure is written as a throughput: the block of the trade's usual "4K" test (common practice, no source).</summary>
    internal const double RandomBlockBytes = 4096;

    /// <summary>All names, as a person may write them.</summary>
    internal static readonly IReadOnlyList<string> Names = ["IOPS", "MB/s", "MiB/s", "kB/s", "KiB/s"];

    /// <summary>The unit of that name whatever its case, or null. "KB/s" is 1000 bytes per second.</summary>
    internal static string? Find(string text) => Names.FirstOrDefault(n => n.Equals(text.Trim(), StringComparison.OrdinalIgnoreCase));

    /// <summary>The figure in the unit of its metric, or null where the unit makes no sense for it.</summary>
    internal static double? Convert(double value, string? unit, TrialKind kind)
    {
        if (unit is null || unit == TrialFigure.UnitOf(kind))
        {
            return value;
        }

        double? bytesPerSecond = unit switch
        {
            "MB/s" => value * 1e6,
            "MiB/s" => value * 1_048_576,
            "kB/s" => value * 1e3,
            "KiB/s" => value * 1_024,
            _ => null,
        };
        return TrialKinds.CountsOperations(kind) ? bytesPerSecond / RandomBlockBytes : bytesPerSecond / 1e6;
    }
}
