namespace Cardassay.Collector.Tests.Boards;

/// <summary>The machine's clock, moved by what a test wants.</summary>
internal sealed class ShiftedTime : TimeProvider
{
    internal TimeSpan Shift { get; set; }

    public override DateTimeOffset GetUtcNow() => base.GetUtcNow() + Shift;
}
