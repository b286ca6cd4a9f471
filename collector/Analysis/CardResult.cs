using Cardassay.Collector.Analysis.Figures;
using Cardassay.Identity;

namespace Cardassay.Collector.Analysis;

/// <summary>One card: what is claimed, what was seen, measured and found.</summary>
public sealed record CardResult
{
    /// <summary>The tag, or "untagged IDENTITY" for a card nobody put a sticker on.</summary>
    public required string Name { get; init; }

    /// <summary>The tag, or null.</summary>
    public string? Tag { get; init; }

    /// <summary>All statements merged, the newest non-null member winning; null when nobody said anything.</summary>
    public Claim? Claim { get; init; }

    /// <summary>Collector the claim was told; "" for this one.</summary>
    public string ClaimOrigin { get; init; } = "";

    /// <summary>Stickers of other collectors that are on it.</summary>
    public IReadOnlyList<string> OtherStickers { get; init; } = [];

    /// <summary>What other collectors were told of the same card. It is shown and does not count.</summary>
    public IReadOnlyList<CollectorClaim> OtherClaims { get; init; } = [];

    /// <summary>Every identity the runs under this name showed, in order of appearance.</summary>
    public IReadOnlyList<SeenIdentity> Identities { get; init; } = [];

    /// <summary>Every run, used or not, in order of measurement.</summary>
    public IReadOnlyList<RunUse> Runs { get; init; } = [];

    /// <summary>True for a fixed disk that nobody gave a sticker: a board's or computer's own, and no card to be proposed for anything.</summary>
    public bool IsOwnDisk => Tag is null && Runs.Count > 0 && Runs.All(r => r.Context.Attachment == Trials.Attachment.Fixed);

    /// <summary>
    /// One summary per comparability key, random read first, then random and synchronous write, mixed and transaction, sequential
    /// last; within a metric by context.
    /// </summary>
    public IReadOnlyList<MetricSummary> Metrics { get; init; } = [];

    /// <summary>Findings, weightiest first.</summary>
    public IReadOnlyList<CardFinding> Findings { get; init; } = [];

    /// <summary>What the trials say of the marks claimed.</summary>
    public IReadOnlyList<MeasuredMark> Marks { get; init; } = [];

    /// <summary>True when any of its data is made up (the demonstration).</summary>
    public bool Invented { get; init; }

    /// <summary>Bytes written to the card by all its runs as far as known (largest odometer seen, at least the sum of closed runs).</summary>
    public long WrittenBytes { get; init; }
}
