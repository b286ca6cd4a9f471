namespace Cardassay.Collector.Commands;

/// <summary>When this collector was started, by its own clock.</summary>
internal sealed record CollectorStart(DateTimeOffset At);
