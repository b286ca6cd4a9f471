using System.Globalization;
using System.Text.RegularExpressions;
using CsvHelper;

namespace Cardassay.Collector.Exchange.HandKept;

/// <summary>
/// A table somebody kept: CSV with commas, semicolons or tabs, columns between bars, or columns set apart by at least two
/// spaces. The first line names the columns; lines that begin with # and empty lines are passed over, except in CSV.
/// </summary>
internal sealed partial class TableText
{
    private const int MostColumns = 200;
    private const int MostRows = 100_000;

    private TableText(IReadOnlyList<string> columns, IReadOnlyList<(int Line, string[] Cells)> rows, IReadOnlyList<RefusedRow> refused)
    {
        Columns = columns;
        Rows = rows;
        Refused = refused;
    }

    /// <summary>Names of the columns as they stand.</summary>
    internal IReadOnlyList<string> Columns { get; }

    /// <summary>Rows with as many cells as there are columns, trimmed.</summary>
    internal IReadOnlyList<(int Line, string[] Cells)> Rows { get; }

    /// <summary>Rows that do not fit the heading.</summary>
    internal IReadOnlyList<RefusedRow> Refused { get; }

    /// <summary>Reads a table.</summary>
    /// <exception cref="EvidenceException">There is no heading, a column has no name or two have the same, or the quotes do not close.</exception>
    internal static TableText Parse(string text, string name)
    {
        text = text.TrimStart('\uFEFF');
        string? heading = text.Split('\n').Select(l => l.Trim('\r')).FirstOrDefault(l => l.Trim().Length > 0 && !l.StartsWith('#'));
        if (heading is null)
        {
            throw new EvidenceException($"{name} is empty: its first line must name the columns.");
        }

        IEnumerable<(int Line, string[] Cells)> lines = heading switch
        {
            _ when heading.Contains('|', StringComparison.Ordinal) => Split(text, Bars),
            _ when heading.Contains('\t', StringComparison.Ordinal) => Csv(text, '\t', name),
            _ when heading.Contains(';', StringComparison.Ordinal) => Csv(text, ';', name),
            _ when heading.Contains(',', StringComparison.Ordinal) => Csv(text, ',', name),
            _ => Split(text, line => TwoSpaces().Split(line.Trim())),
        };

        string[]? columns = null;
        var rows = new List<(int, string[])>();
        var refused = new List<RefusedRow>();
        foreach ((int line, string[] cells) in lines)
        {
            if (columns is null)
            {
                columns = cells;
                CheckHeading(columns, name);
            }
            else if (cells.Length != columns.Length)
            {
                refused.Add(new RefusedRow(line, string.Create(
                    CultureInfo.InvariantCulture, $"{cells.Length} cells where the heading has {columns.Length}. Set columns apart by two spaces or more, or write CSV.")));
            }
            else if (rows.Count >= MostRows)
            {
                throw new EvidenceException(string.Create(CultureInfo.InvariantCulture, $"{name} has more than {MostRows} rows; split it."));
            }
            else
            {
                rows.Add((line, cells));
            }
        }

        return columns is null ? throw new EvidenceException($"{name} has no line that names the columns.") : new TableText(columns, rows, refused);
    }

    private static void CheckHeading(string[] columns, string name)
    {
        if (columns.Length > MostColumns)
        {
            throw new EvidenceException(string.Create(CultureInfo.InvariantCulture, $"{name} has {columns.Length} columns; at most {MostColumns} are read."));
        }

        if (columns.Any(c => c.Length == 0))
        {
            throw new EvidenceException($"{name}: a column has no name; give every column one in the first line.");
        }

        if (columns.GroupBy(c => c, StringComparer.OrdinalIgnoreCase).FirstOrDefault(g => g.Count() > 1) is { } twice)
        {
            throw new EvidenceException($"{name}: two columns are called \"{twice.Key}\"; give them different names.");
        }
    }

    private static IEnumerable<(int, string[])> Split(string text, Func<string, string[]> cellsOf)
    {
        int number = 0;
        foreach (string raw in text.Split('\n'))
        {
            number++;
            string line = raw.Trim('\r');
            if (line.Trim().Length > 0 && !line.StartsWith('#') && !Rule().IsMatch(line))
            {
                yield return (number, [.. cellsOf(line).Select(c => c.Trim())]);
            }
        }
    }

    private static string[] Bars(string line)
    {
        string inner = line.Trim();
        inner = inner.StartsWith('|') ? inner[1..] : inner;
        inner = inner.EndsWith('|') ? inner[..^1] : inner;
        return inner.Split('|');
    }

    private static List<(int, string[])> Csv(string text, char separator, string name)
    {
        var lines = new List<(int, string[])>();
        using var reader = new StringReader(text);
        using CsvReader csv = CsvReader.Create(reader, new CsvReaderOptions { HasHeader = false, Separator = separator, TrackLineNumbers = true, SkipEmptyLines = true });
        try
        {
            while (csv.Read())
            {
                string[] cells = new string[csv.FieldCount];
                for (int i = 0; i < cells.Length; i++)
                {
                    cells[i] = (csv.GetString(i) ?? "").Trim();
                }

                if (cells.Length > 1 || cells[0].Length > 0)
                {
                    lines.Add(((int)csv.LineNumber, cells));
                }
            }
        }
        catch (CsvFormatException e)
        {
            throw new EvidenceException($"{name}: {e.Message}");
        }

        return lines;
    }

    [GeneratedRegex(@" {2,}")]
    private static partial Regex TwoSpaces();

    /// <summary>A line that only draws a rule below the heading.</summary>
    [GeneratedRegex(@"^[\s|:+=-]*-[\s|:+=-]*$")]
    private static partial Regex Rule();
}
