using System.Text.Json.Serialization;

namespace Cardassay.Collector.Report.Model;

/// <summary>What the span was meant to bring and what it brought.</summary>
public sealed record NightSummary
{
    /// <summary>Runs planned, or null when no schedule is known.</summary>
    public int? RunsPlanned { get; init; }

    /// <summary>Days between the end of the span and the data of the report; 0 for last night.</summary>
    internal int DaysAgo { get; init; }

    /// <summary>Runs begun.</summary>
    public int RunsBegun { get; init; }

    /// <summary>Runs that went through their whole plan.</summary>
    public int RunsCompleted { get; init; }

    /// <summary>Runs planned but never begun, plus runs begun but not completed.</summary>
    public int RunsMissing { get; init; }

    /// <summary>Trials measured, valid or not.</summary>
    public int TrialsMeasured { get; init; }

    /// <summary>Trials whose figure is worthless; kept and shown all the same.</summary>
    public int TrialsInvalid { get; init; }

    /// <summary>False where no schedule is known and no run was cut off: then nobody knows what is missing.</summary>
    internal bool IsMissingKnown => RunsPlanned is not null || RunsMissing > 0;

    /// <summary>Every reason behind invalid and missing.</summary>
    public IReadOnlyList<Trouble> Troubles { get; init; } = [];
}

/// <summary>Something planned that did not become a figure.</summary>
/// <param name="What">"invalid" (trials) or "missing" (runs).</param>
/// <param name="Count">How many trials or runs share the reason, at least 1.</param>
/// <param name="Card">Title of the card.</param>
/// <param name="Board">Name of the board.</param>
/// <param name="Why">The reason as a sentence.</param>
public sealed record Trouble(string What, int Count, string Card, string Board, string Why);

/// <summary>Something a person has to decide or do.</summary>
/// <param name="Subject">Card or board it is about.</param>
/// <param name="Text">What is the matter, as a sentence.</param>
/// <param name="Do">What to do, as a sentence; may be empty.</param>
public sealed record NeedsPerson(string Subject, string Text, string Do)
{
    /// <summary>The subject of what belongs to no single card.</summary>
    public const string Laboratory = "Laboratory";
}

/// <summary>A verdict that changed.</summary>
/// <param name="Card">Title of the card.</param>
/// <param name="Before">Words of the earlier verdict.</param>
/// <param name="After">Words of the verdict now.</param>
public sealed record VerdictChange(string Card, string Before, string After);

/// <summary>Delivery counts with what the intake found. In the report of a past night there are none: they are kept as of today alone.</summary>
/// <param name="Received">Distinct records received; null for a past night.</param>
/// <param name="Gaps">Sequence numbers missing between records received; null for a past night.</param>
/// <param name="Conflicts">Keys that came with two different contents; null for a past night.</param>
/// <param name="Findings">Findings of the intake.</param>
public sealed record ReportIntegrity(long? Received, long? Gaps, long? Conflicts, [property: JsonPropertyOrder(1)] IReadOnlyList<ReportFinding> Findings)
{
    /// <summary>Entries of the intake log that nothing holds any more.</summary>
    public long EntriesLost { get; init; }

    /// <summary>Entries of the intake log that only the database still holds.</summary>
    public long EntriesOnlyStored { get; init; }

    /// <summary>True when a person has acknowledged all of it.</summary>
    [JsonPropertyName("lossesAcknowledged")]
    public bool LossesAreAcknowledged { get; init; }

    /// <summary>All of it as one sentence.</summary>
    public string Line => Wording.IntegrityLine(this);
}
