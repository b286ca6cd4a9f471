using System.Globalization;
using CsvHelper;

namespace Cardassay.Collector.Exchange.Publishing;

/// <summary>Compares two tables of figures cell by cell and names each figure that differs.</summary>
internal static class FiguresCheck
{
    private const int Most = 20;
    private const int MaxRowBytes = 256 * 1024;

    /// <summary>Cells that hold something.</summary>
    internal static int Count(string csv) => Rows(csv).Skip(1).Sum(row => row.Count(cell => cell.Length > 0));

    /// <summary>
    /// One sentence for each difference, at most 20 and a count of the rest. Row by row: the other table may be anything, of any
    /// length.
    /// </summary>
    /// <param name="expectedCsv">The table as the records give it.</param>
    /// <param name="actualCsv">Opens the other one at its beginning.</param>
    internal static IReadOnlyList<string> Differences(string expectedCsv, Func<TextReader> actualCsv)
    {
        if (IsSame(expectedCsv, actualCsv))
        {
            return [];
        }

        var differences = new List<string>();
        int more = 0;
        int rows = 0;
        try
        {
            string[] header = Rows(expectedCsv).First();
            using TextReader text = actualCsv();
            using IEnumerator<string[]> actual = Rows(text).GetEnumerator();
            foreach (string[] expected in Rows(expectedCsv))
            {
                rows++;
                if (!actual.MoveNext())
                {
                    return [.. differences, string.Create(CultureInfo.InvariantCulture, $"figures.csv has {rows - 2} rows; the records give {Rows(expectedCsv).Count() - 1}.")];
                }

                foreach (string difference in Row(header, expected, actual.Current, rows))
                {
                    more += differences.Count < Most ? 0 : 1;
                    differences.AddRange(differences.Count < Most ? [difference] : []);
                }
            }

            long behind = 0;
            while (actual.MoveNext())
            {
                behind++;
            }

            differences.AddRange(behind == 0 ? [] : [string.Create(CultureInfo.InvariantCulture, $"figures.csv has {rows + behind - 1} rows; the records give {rows - 1}.")]);
        }
        catch (CsvFormatException e)
        {
            return [$"figures.csv is not a table: {e.Message}"];
        }
        return (differences.Count, more) switch
        {
            (_, > 0) => [.. differences, string.Create(CultureInfo.InvariantCulture, $"figures.csv: {more} more figures differ.")],
            (0, _) => ["figures.csv: its figures are those of the records, but it is written in another way."],
            _ => differences,
        };
    }

    private static IEnumerable<string> Row(string[] header, string[] expected, string[] actual, int row)
    {
        if (expected.Length != actual.Length)
        {
            yield return string.Create(CultureInfo.InvariantCulture, $"figures.csv, row {row}: {actual.Length} cells instead of {expected.Length}.");
            yield break;
        }

        for (int column = 0; column < header.Length; column++)
        {
            if (expected[column] != actual[column])
            {
                yield return $"figures.csv, {Name(header, expected)}, {header[column]}: it says \"{Short(actual[column])}\"; the records give \"{expected[column]}\".";
            }
        }
    }

    private static string Short(string text) => text.Length > 160 ? text[..160] + "…" : text;

    private static bool IsSame(string expected, Func<TextReader> other)
    {
        using TextReader text = other();
        char[] piece = new char[32 * 1024];
        int at = 0;
        while (text.ReadBlock(piece) is > 0 and int got)
        {
            if (!expected.AsSpan(at).StartsWith(piece.AsSpan(0, got), StringComparison.Ordinal))
            {
                return false;
            }

            at += got;
        }

        return at == expected.Length;
    }

    private static string Name(string[] header, string[] row)
    {
        string Cell(string column) => Array.IndexOf(header, column) is >= 0 and int at ? row[at] : "";
        string card = Cell("tag").Length > 0 ? Cell("tag") : Cell("identity");
        return $"card {card}, {(Cell("metric").Length > 0 ? Cell("metric") : "no metric")}";
    }

    private static IEnumerable<string[]> Rows(string text) => Rows(new StringReader(text));

    /// <summary>The rows, of which none is longer than a row of figures can be: each is held as a whole.</summary>
    private static IEnumerable<string[]> Rows(TextReader text)
    {
        using CsvReader csv = CsvReader.Create(text, new CsvReaderOptions { HasHeader = false, MaxRecordSize = MaxRowBytes });
        while (csv.Read())
        {
            string[] row = new string[csv.FieldCount];
            for (int i = 0; i < row.Length; i++)
            {
                row[i] = csv.GetString(i) ?? "";
            }

            yield return row;
        }
    }
}
