using System.Text.Json.Serialization;
using Cardassay.Trials;

namespace Cardassay.Collector.Report.Model;

/// <summary>One run and what surrounded it, as printed.</summary>
public sealed record ReportRun
{
    /// <summary>When it began, UTC, to the minute.</summary>
    public required string When { get; init; }

    /// <summary>Name of the board.</summary>
    public required string Board { get; init; }

    /// <summary>Plan and version.</summary>
    public required string Plan { get; init; }

    /// <summary>Target kind, attachment and file system.</summary>
    public required string Target { get; init; }

    /// <summary>"completed", "interrupted", ... with the reason.</summary>
    public required string Outcome { get; init; }

    /// <summary>Trials valid of trials measured.</summary>
    public required string Trials { get; init; }

    /// <summary>Bus mode and clock.</summary>
    public required string Bus { get; init; }

    /// <summary>Processor governor.</summary>
    public required string Governor { get; init; }

    /// <summary>Lowest to highest temperature of the hottest sensor, degrees Celsius.</summary>
    public required string Temperature { get; init; }

    /// <summary>Under-voltage, throttling, link errors; "none seen" only where the board could have told.</summary>
    public required string Flags { get; init; }

    /// <summary>Decimal gigabytes written by the run.</summary>
    public required Figure WrittenGigabytes { get; init; }
}

/// <summary>What a capacity proof found, in address order.</summary>
/// <param name="ClaimedGigabytes">Size of the device, decimal gigabytes.</param>
/// <param name="Statement">What the proof says, as a sentence.</param>
/// <param name="Segments">Stretches of the address space.</param>
public sealed record CapacityMap(Figure ClaimedGigabytes, string Statement, IReadOnlyList<CapacitySegment> Segments)
{
    /// <summary>The proof as the board reported it, for the machine-readable rendering; null where only a picture is known.</summary>
    [JsonIgnore]
    public ProofMeasured? Proof { get; init; }

    /// <summary>Its figures.</summary>
    [JsonPropertyName("proof")]
    [JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)]
    public ReportProof? ProofFigures => Proof is null ? null : ReportProof.Of(Proof);
}

/// <summary>A stretch of addresses with one outcome.</summary>
/// <param name="Start">Start as a share of the device, 0 to 1.</param>
/// <param name="End">End as a share of the device.</param>
/// <param name="Outcome">"kept", "kept where sampled", "wrapped", "lost", "unreadable" or "not probed".</param>
/// <param name="Text">Range and outcome as text.</param>
public sealed record CapacitySegment([property: JsonIgnore] double Start, [property: JsonIgnore] double End, string Outcome, string Text);
