using System.Globalization;
using Cardassay.Wire;

namespace Cardassay.Collector.Storage;

/// <summary>Names the records of one run in one journal, under one name of its board.</summary>
/// <param name="Epoch">Journal epoch, 32 hex digits.</param>
/// <param name="Board">Name the board is kept under.</param>
/// <param name="Run">The run, 32 hex digits; of a record that is of no run its sequence, 16 hex digits.</param>
public readonly record struct RunKey(string Epoch, string Board, string Run)
{
    /// <summary>Which one a record belongs to: each to exactly one.</summary>
    public static RunKey Of(StoredRecord record)
    {
        ArgumentNullException.ThrowIfNull(record);
        string? run = ObservationHeads.RunOf(record.Payload)?.ToString();
        return new RunKey(record.Key.Epoch, record.Board, run ?? record.Key.Sequence.ToString("x16", CultureInfo.InvariantCulture));
    }

    /// <inheritdoc/>
    public override string ToString() => Run.Length == 32 ? $"run {Run} of board {Board}" : $"record {Epoch}:{Run} of board {Board}";
}
