using Cardassay.Collector.Analysis.Figures;
using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Collector.Analysis;

/// <summary>Key of a record: journal epoch (32 hex digits) and sequence.</summary>
public readonly record struct RecordKey(string Epoch, long Sequence)
{
    /// <inheritdoc/>
    public override string ToString() => string.Create(System.Globalization.CultureInfo.InvariantCulture, $"{Epoch}:{Sequence}");
}

/// <summary>A trial and the record it came in.</summary>
public sealed record TrialRecord(RecordKey Key, TrialMeasured Trial)
{
    /// <summary>The board's wall clock when it wrote the trial down, ns since 1970; 0 where it is not known.</summary>
    public long JournaledUnixNs { get; init; }
}

/// <summary>A capacity proof and the record that holds its last state.</summary>
public sealed record ProofRecord(RecordKey Key, ProofMeasured Proof);

/// <summary>The trials of a run that is over: told at once what every analysis asks, read where somebody looks.</summary>
public interface IToldTrials
{
    /// <summary>How many.</summary>
    int Count { get; }

    /// <summary>How long they took together, ns.</summary>
    long ElapsedNs { get; }

    /// <summary>Those the board calls valid.</summary>
    int Valid { get; }

    /// <summary>What the analysis needs of them.</summary>
    RunFigures Figures();

    /// <summary>The trials, by index, from the store.</summary>
    /// <exception cref="Storage.StoreUnavailableException">The store cannot be asked now.</exception>
    IReadOnlyList<TrialRecord> Read();
}

/// <summary>One run with everything that came of it.</summary>
public sealed record RunRecord
{
    /// <summary>The record that opened it.</summary>
    public required RecordKey Key { get; init; }

    /// <summary>Name of the board, as the collector knows it.</summary>
    public required string Board { get; init; }

    /// <summary>Collector it was taken over from; "" when its board delivered it to this one.</summary>
    public string Origin { get; init; } = "";

    /// <summary>How it was opened.</summary>
    public required RunOpened Opened
    {
        get;
        init => (field, _figures) = (value, null);
    }

    /// <summary>What the card said, or null when that record is missing.</summary>
    public CardIdentified? Card
    {
        get;
        init => (field, _figures) = (value, null);
    }

    /// <summary>Its trials, by index; those of a run that is over are read when they are asked for, so ask once.</summary>
    public IReadOnlyList<TrialRecord> Trials
    {
        get => Told?.Read() ?? field;
        init => (field, Told, _figures) = (value, null, null);
    } = [];

    /// <summary>What is known of its trials without reading them; null where they are here.</summary>
    public IToldTrials? Told { get; init; }

    /// <summary>Number of its trials.</summary>
    public int TrialCount => Told?.Count ?? Trials.Count;

    /// <summary>How long its trials took, ns.</summary>
    public long ElapsedNs => Told?.ElapsedNs ?? Trials.Sum(t => t.Trial.ElapsedNs);

    /// <summary>Number of its trials that the board calls valid.</summary>
    public int ValidTrials => Told?.Valid ?? Trials.Count(t => t.Trial.Valid);

    /// <summary>What its trials say to the analysis; worked out or decoded when it is asked for, so ask once.</summary>
    public RunFigures Figures => Told?.Figures() ?? (_figures ??= RunFigures.Of(Opened, Card, Trials));

    /// <summary>Its capacity proofs, by index; of a proof in parts the last one, which holds everything.</summary>
    public IReadOnlyList<ProofRecord> Proofs { get; init; } = [];

    /// <summary>How it ended, or null while open or when the board went silent.</summary>
    public RunClosed? Closed { get; init; }

    /// <summary>Wall time on the board when it began; wrong where the board has no clock.</summary>
    public DateTimeOffset OpenedAt { get; init; }

    /// <summary>Wall time at the collector when its first record arrived.</summary>
    public DateTimeOffset ReceivedAt { get; init; }

    /// <summary>Collector's clock minus the board's when the board greeted to deliver it.</summary>
    public TimeSpan ClockOffset { get; init; }

    /// <summary>
    /// When its card was surely in that slot, by the collector's clock, which all its boards share: from the opening as long as its trials took. What the boards'
    /// clocks still differ by after the offset found at the greeting (100 ppm make 4 s in 12 h; from memory) is less than carrying a card to another board
    /// and starting a run there takes.
    /// </summary>
    public (DateTimeOffset From, DateTimeOffset Until) Span => (OpenedAt + ClockOffset, OpenedAt + ClockOffset + TimeSpan.FromTicks(ElapsedNs / 100));

    private RunFigures? _figures;
}

/// <summary>One statement of a claim. Corrections are new entries; the newest wins member by member.</summary>
/// <param name="At">Collector's wall time of the entry.</param>
/// <param name="Claim">What was stated; null members leave earlier statements as they are.</param>
public sealed record ClaimEntry(DateTimeOffset At, Claim Claim)
{
    /// <summary>Collector it was said to; "" for this one.</summary>
    public string Origin { get; init; } = "";

    /// <summary>The sticker it was said of, where another one on the same card stands for the card now; "" where it is the card's own.</summary>
    public string Sticker { get; init; } = "";
}

/// <summary>A board the collector knows.</summary>
public sealed record BoardRecord(string Name, string? Model, DateTimeOffset? LastSeen);

/// <summary>Counts that say whether anything was lost on the way.</summary>
/// <param name="Received">Distinct records received.</param>
/// <param name="Gaps">Sequence numbers missing between records received.</param>
/// <param name="Conflicts">Keys that came with two different contents.</param>
public sealed record IntegrityCounts(long Received, long Gaps, long Conflicts)
{
    /// <summary>Entries of the intake log that neither log nor database holds any more: records, or what a person or the collector wrote down.</summary>
    public long EntriesLost { get; init; }

    /// <summary>Entries of the intake log that cannot be read there and that the database still holds.</summary>
    public long EntriesOnlyStored { get; init; }

    /// <summary>True when a person has acknowledged all that is lost.</summary>
    public bool LossesAreAcknowledged { get; init; }
}

/// <summary>Everything the analysis works on: one consistent snapshot of the master data set.</summary>
public sealed record MasterData
{
    /// <summary>Stickers of other collectors that are on a card of another name, and that name.</summary>
    public IReadOnlyDictionary<string, string> OtherStickers { get; init; } = new Dictionary<string, string>();

    /// <summary>Collector's wall time the snapshot was taken for; the only clock analysis and report know.</summary>
    public required DateTimeOffset AsOf { get; init; }

    /// <summary>All runs, ordered by (epoch, sequence) of the opening record.</summary>
    public IReadOnlyList<RunRecord> Runs { get; init; } = [];

    /// <summary>All statements of claims, oldest first.</summary>
    public IReadOnlyList<ClaimEntry> Claims { get; init; } = [];

    /// <summary>Single figures kept by hand and imported, in the order of the import.</summary>
    public IReadOnlyList<HandKeptResult> HandKept { get; init; } = [];

    /// <summary>All boards, by name.</summary>
    public IReadOnlyList<BoardRecord> Boards { get; init; } = [];

    /// <summary>Delivery counts.</summary>
    public IntegrityCounts Integrity { get; init; } = new(0, 0, 0);

    /// <summary>Findings of the intake (conflicts, clones of a board, lost ranges), ready to show.</summary>
    public IReadOnlyList<Finding> IntakeFindings { get; init; } = [];
}
