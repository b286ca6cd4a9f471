using Cardassay.Trials;

namespace Cardassay.Collector.Analysis.Profiles;

/// <summary>
/// Weights and floors of a use. The composite of a card is exp(sum w_i ln (x_i / reference_i)): a geometric mean, because ratios must not be averaged
/// arithmetically (Fleming and Wallace, CACM 1986). Nothing is capped, unless a profile says of a metric how much is enough.
/// </summary>
/// <param name="Name">Kebab-case name.</param>
/// <param name="Metrics">At least one; no kind twice.</param>
public sealed record UseProfile(string Name, IReadOnlyList<ProfileMetric> Metrics)
{
    /// <summary>
    /// A board's system disk: random access first. References and floors of the random metrics are those of the mark A1 (SD
    /// Association: 1500 read, 500 write operations of 4 KiB a second, 10 MB/s); the weights are the project's choice.
    /// </summary>
    public static UseProfile SystemDisk { get; } = new("system-disk",
    [
        new(TrialKind.RandomRead, 0.5, 1500, 1500, 4096, 1),
        new(TrialKind.RandomWrite, 0.3, 500, 500, 4096, 1),
        new(TrialKind.SequentialRead, 0.1, 10),
        new(TrialKind.SequentialWrite, 0.1, 10),
    ]);

    /// <summary>A camera or recorder that writes long streams. Reference and floor of writing are those of the mark C10; weights: common practice, no source.</summary>
    public static UseProfile Recorder { get; } = new("recorder",
    [
        new(TrialKind.SequentialWrite, 0.8, 10, 10),
        new(TrialKind.SequentialRead, 0.2, 10),
    ]);

    /// <summary>
    /// A logger that makes every small record durable. Measured on a folder, where a synchronous write reaches the memory; the
    /// reference of 100 durable writes a second and the weights: common practice, no source.
    /// </summary>
    public static UseProfile DataLogger { get; } = new("data-logger",
    [
        new(TrialKind.SynchronousWrite, 0.6, 100, null, 4096, 1),
        new(TrialKind.RandomWrite, 0.3, 500, null, 4096, 1),
        new(TrialKind.RandomRead, 0.1, 1500, null, 4096, 1),
    ]);

    /// <summary>The built-in profiles.</summary>
    public static IReadOnlyList<UseProfile> BuiltIn { get; } = [SystemDisk, Recorder, DataLogger];

    /// <summary>The built-in profile of that name, or null.</summary>
    public static UseProfile? Named(string name) => BuiltIn.FirstOrDefault(p => p.Name == name);

    /// <summary>The composite of one set of figures, in the order of <see cref="Metrics"/>; 0 when a figure is 0.</summary>
    public double Composite(ReadOnlySpan<double> figures)
    {
        double sum = 0;
        for (int i = 0; i < Metrics.Count; i++)
        {
            sum += Metrics[i].Weight * LogRatio(i, figures[i]);
        }

        return Math.Exp(sum);
    }

    /// <summary>Natural logarithm of the ratio of a figure, or of what is enough, to its reference.</summary>
    public double LogRatio(int metric, double figure) => Math.Log(Math.Min(figure, Metrics[metric].Enough ?? double.MaxValue) / Metrics[metric].Reference);
}
