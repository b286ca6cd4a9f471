namespace Cardassay.Agent.Commands;

/// <summary>How a capacity shall be proven.</summary>
internal sealed record ProveOptions
{
    /// <summary>Every block instead of probes.</summary>
    internal bool Full { get; init; }

    /// <summary>Time for a sparse proof to spend on further blocks; null without.</summary>
    internal TimeSpan? Budget { get; init; }

    /// <summary>Wait for the card to be taken out and put in again between writing and reading.</summary>
    internal bool Pause { get; init; }

    /// <summary>Forget how far an interrupted proof came.</summary>
    internal bool FromStart { get; init; }

    /// <summary>A full proof can be taken up again from every so many bytes.</summary>
    internal long CheckpointBytes { get; init; } = 256L << 20;
}
