using System.Globalization;
using Cardassay.Journal;
using Cardassay.Wire;

namespace Cardassay.Demo;

/// <summary>The journal of an invented board, in the format of real ones.</summary>
internal static class BoardJournal
{
    /// <summary>
    /// Opens the journal in a folder and, when it is new, fills it. Its epoch follows from the board's name, so that a collector that
    /// is given the demonstration twice recognises every record.
    /// </summary>
    /// <param name="folder">Folder of this board's journal; made when missing.</param>
    /// <param name="board">What goes in.</param>
    /// <exception cref="InvalidDataException">The folder holds another journal.</exception>
    public static RecordLog Open(string folder, BoardRecords board)
    {
        Directory.CreateDirectory(folder);
        int epochs = 0;
        RecordLog log = RecordLog.Open(new RealLogDisk(folder), new LogOptions
        {
            SchemaVersion = ProtocolVersion.Schema,
            NewEpoch = () => EpochOf(board.Board, epochs++),
        });
        try
        {
            Fill(log, folder, board);
            return log;
        }
        catch
        {
            log.Dispose();
            throw;
        }
    }

    /// <summary>The epoch of a board's journal.</summary>
    /// <param name="board">Board.</param>
    /// <param name="number">0 for the first; a damaged journal goes on under another.</param>
    public static LogEpoch EpochOf(Board board, int number) =>
        new(new Chance(Tarrow.Seed, string.Create(CultureInfo.InvariantCulture, $"epoch {number} of {board.Name}")).Guid());

    private static void Fill(RecordLog log, string folder, BoardRecords board)
    {
        if (log.Epoch != EpochOf(board.Board, 0) || (log.LastSequence != 0 && log.LastSequence != board.Records.Count))
        {
            throw new InvalidDataException($"{folder} holds another journal. Name an empty folder with --data.");
        }

        if (log.LastSequence == 0)
        {
            foreach (Stamped record in board.Records)
            {
                log.Append(record.Stamp, ObservationCodec.Encode(record.Observation));
            }

            log.Flush();
        }
    }
}
