namespace Cardassay.Demo;

/// <summary>What a card does per second on a quick bus, before noise.</summary>
/// <param name="RandomReadOps">Random reads of 4 KiB, operations per second.</param>
/// <param name="RandomWriteOps">Random writes of 4 KiB, operations per second.</param>
/// <param name="SynchronousOps">Writes of 4 KiB each made durable, operations per second.</param>
/// <param name="SequentialReadMegabytes">Sequential read, decimal MB/s.</param>
/// <param name="SequentialWriteMegabytes">Sequential write, decimal MB/s.</param>
internal sealed record Pace(
    double RandomReadOps,
    double RandomWriteOps,
    double SynchronousOps,
    double SequentialReadMegabytes,
    double SequentialWriteMegabytes)
{
    /// <summary>The same card in a slot that stops at the high-speed mode (25 MB/s at 4 bits).</summary>
    public Pace OnHighSpeedBus() => new(
        RandomReadOps * 0.93,
        RandomWriteOps * 0.97,
        SynchronousOps * 0.98,
        Math.Min(SequentialReadMegabytes, 22.9),
        Math.Min(SequentialWriteMegabytes, 18.6));
}
