namespace Cardassay.Journal;

/// <summary>One record as it was appended.</summary>
public sealed record LogRecord
{
    /// <summary>The series <see cref="Sequence"/> counts in.</summary>
    public required LogEpoch Epoch { get; init; }

    /// <summary>Gapless from 1 within the epoch.</summary>
    public required long Sequence { get; init; }

    /// <summary>Version of the payload's schema, as the writer's options gave it.</summary>
    public required int SchemaVersion { get; init; }

    /// <summary>The writer's clocks.</summary>
    public required LogStamp Stamp { get; init; }

    /// <summary>The bytes exactly as appended; the array is this record's own.</summary>
    public required ReadOnlyMemory<byte> Payload { get; init; }
}
