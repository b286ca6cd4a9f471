using System.Globalization;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Storage;
using Cardassay.Identity;

namespace Cardassay.Collector.Intake;

/// <summary>What is said of records that were lost, contradict each other or cannot be read, and of boards and doors that need a look.</summary>
internal static class IntakeFindings
{
    internal static Finding Unreadable(string board, RecordKey record, string problem) => new()
    {
        Id = "unreadable-record",
        Severity = FindingSeverity.Doubt,
        Text = $"A record of board {board} cannot be read and is left out.",
        Values = [new("record", record.ToString()), new("problem", problem)],
        Source = "delivery contract of this project",
        Settles = "Update the collector, then run `rebuild`.",
    };

    internal static Finding Conflict(StoredRecord record) => new()
    {
        Id = "record-conflict",
        Severity = FindingSeverity.Doubt,
        Text = $"Board {record.Board} sent two different contents under one record key; the first counts, both are kept.",
        Values = [new("record", record.Key.ToString()), new("SHA-256 of the later content", Convert.ToHexStringLower(record.Hash))],
        Source = "delivery contract of this project",
        Settles = "Look for a copied or restored board; open a new journal on it.",
    };

    internal static Finding Lost(string board, string epoch, long first, long last, string reason) => new()
    {
        Id = "records-lost",
        Severity = FindingSeverity.Doubt,
        Text = string.Create(CultureInfo.InvariantCulture, $"Board {board} lost {last - first + 1} records: {reason}"),
        Values =
        [
            new("journal epoch", epoch),
            new("first sequence", first.ToString(CultureInfo.InvariantCulture)),
            new("last sequence", last.ToString(CultureInfo.InvariantCulture)),
        ],
        Source = "delivery contract of this project",
        Settles = "Run the plans of that time again.",
    };

    internal static Finding DoorFull(V1.DoorWasFull full) => new()
    {
        Id = "door-full",
        Severity = FindingSeverity.Note,
        Text = string.Create(
            CultureInfo.InvariantCulture,
            $"The door was full since {MasterDataLoader.Time(full.SinceUnixNs):yyyy-MM-dd HH:mm} until {MasterDataLoader.Time(full.UntilUnixNs):yyyy-MM-dd HH:mm} UTC: {full.TurnedAway} connections without a board's certificate were turned away. Boards that joined were let in."),
        Values = [new("most from", full.MostFrom)],
        Source = "delivery contract of this project",
        Settles = "Keep strangers from the port, with a firewall for example.",
    };

    internal static Finding Doubt(V1.JournalDoubt doubt) => new()
    {
        Id = doubt.Kind switch
        {
            V1.JournalDoubt.Types.Kind.Clone => "board-cloned",
            V1.JournalDoubt.Types.Kind.RolledBack => "journal-rolled-back",
            V1.JournalDoubt.Types.Kind.Moved => "journal-moved",
            _ => "journal-doubt",
        },
        Severity = FindingSeverity.Doubt,
        Text = doubt.Text,
        Values = [new("board", doubt.Board), new("journal epoch", Convert.ToHexStringLower(doubt.Epoch.Span))],
        Source = "delivery contract of this project",
        Settles = "Give each board a data folder of its own.",
    };
}
