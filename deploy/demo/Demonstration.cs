using Cardassay.Journal;

namespace Cardassay.Demo;

/// <summary>What the command does.</summary>
internal static class Demonstration
{
    /// <summary>Writes the journals and the claims. Returns the exit code.</summary>
    public static int Write(string folder, TextWriter output, TextWriter errors)
    {
        try
        {
            foreach (BoardRecords board in DemoData.Boards())
            {
                string journal = Path.Combine(folder, board.Board.Name, "journal"); // where an agent with this --data looks for it
                using RecordLog log = BoardJournal.Open(journal, board);
                output.WriteLine($"{board.Board.Name}: {log.LastSequence} invented records in {journal}");
            }

            string claims = Path.Combine(folder, "claims.csv");
            File.WriteAllText(claims, Claims.Csv());
            output.WriteLine($"{Tarrow.Cards.Count} invented claims in {claims}");
            return 0;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or InvalidDataException or LogInUseException)
        {
            errors.WriteLine($"cardassay-demo: {e.Message}");
            return 1;
        }
    }
}
