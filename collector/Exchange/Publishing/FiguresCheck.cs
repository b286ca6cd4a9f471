using System.Globalization;
using CsvHelper;

namespace Cardassay.Collector.Exchange.Publishing;

/// <summary>Compares two tables of figures cell by cell and names each figure that differs.</summary>
internal static class FiguresCheck
{
    private const int Most = 20;

    /// <summary>Cells that hold something.</summary>
    internal static int Count(string csv) => Rows(csv).Skip(1).Sum(row => row.Count(cell => cell.Length > 0));

    /// <summary>One sentence for each difference, at most 20 and a count of the rest.</summary>
    internal static IReadOnlyList<string> Differences(string expectedCsv, string actualCsv)
    {
        List<string[]> expected = Rows(expectedCsv);
        List<string[]> actual;
        try
        {
            actual = Rows(actualCsv);
        }
        catch (CsvFormatException e)
        {
            return [$"figures.csv is not a table: {e.Message}"];
        }

        var differences = new List<string>();
        if (actual.Count != expected.Count)
        {
            differences.Add(string.Create(
                CultureInfo.InvariantCulture, $"figures.csv has {actual.Count - 1} rows; the records give {expected.Count - 1}."));
        }

        string[] header = expected[0];
        for (int row = 0; row < Math.Min(expected.Count, actual.Count); row++)
        {
            if (expected[row].Length != actual[row].Length)
            {
                differences.Add(string.Create(CultureInfo.InvariantCulture, $"figures.csv, row {row + 1}: {actual[row].Length} cells instead of {expected[row].Length}."));
                continue;
            }

            for (int column = 0; column < header.Length; column++)
            {
                if (expected[row][column] != actual[row][column])
                {
                    differences.Add($"figures.csv, {Name(header, expected[row])}, {header[column]}: it says \"{actual[row][column]}\"; the records give \"{expected[row][column]}\".");
                }
            }
        }

        return differences.Count <= Most
            ? differences
            : [.. differences.Take(Most), string.Create(CultureInfo.InvariantCulture, $"figures.csv: {differences.Count - Most} more figures differ.")];
    }

    private static string Name(string[] header, string[] row)
    {
        string Cell(string column) => Array.IndexOf(header, column) is >= 0 and int at ? row[at] : "";
        string card = Cell("tag").Length > 0 ? Cell("tag") : Cell("identity");
        return $"card {card}, {(Cell("metric").Length > 0 ? Cell("metric") : "no metric")}";
    }

    private static List<string[]> Rows(string text)
    {
        var rows = new List<string[]>();
        using var reader = new StringReader(text);
        using CsvReader csv = CsvReader.Create(reader, new CsvReaderOptions { HasHeader = false });
        while (csv.Read())
        {
            string[] row = new string[csv.FieldCount];
            for (int i = 0; i < row.Length; i++)
            {
                row[i] = csv.GetString(i) ?? "";
            }

            rows.Add(row);
        }

        return rows;
    }
}
