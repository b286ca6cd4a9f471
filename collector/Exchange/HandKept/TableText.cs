using System.Globalization;
using System.Text.RegularExpressions;
using Cardassay.Collector.Files;
using CsvHelper;

namespace Cardassay.Collector.Exchange.HandKept;

/// <summary>
/// A table somebody kept: CSV with commas, semicolons or tabs, columns between bars, or columns set apart by at least two
/// spaces. The first line that names known columns is the heading; what stands above it, lines with a single cell and rows of sums or
/// averages are passed over and told; lines that begin with # and empty lines are no part of it.
/// </summary>
internal sealed partial class TableText
{
    private const int MostColumns = 200;
    private const int MostRows = 100_000;

    /// <summary>Lines looked at for a heading: a title takes fewer (a choice).</summary>
    private const int MostTitleLines = 30;

    /// <summary>What stands in the column of cards where the row is about all of them (common practice, no source).</summary>
    private static readonly HashSet<string> SummaryWords = new(StringComparer.OrdinalIgnoreCase) { "average", "mean", "median", "total", "sum" };

    private TableText(
        char separator, IReadOnlyList<string> columns, IReadOnlyList<(int Line, string[] Cells)> rows, IReadOnlyList<RefusedRow> refused, IReadOnlyList<(int Line, string Text)> passedOver)
    {
        Separator = separator;
        PassedOver = passedOver;
        Columns = columns;
        Rows = rows;
        Refused = refused;
    }

    /// <summary>What sets the cells apart: ',', ';', a tab, '|', or ' ' for two spaces and more.</summary>
    internal char Separator { get; }

    /// <summary>Lines that are no rows: titles, notes below the table, averages.</summary>
    internal IReadOnlyList<(int Line, string Text)> PassedOver { get; }

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
        string[] all = text.TrimStart('\uFEFF').Split('\n');
        (int heading, char separator) = FindHeading(all) ?? throw new EvidenceException($"{name} is empty: its first line must name the columns.");
        List<(int Line, string Text)> passed = [.. Enumerable.Range(0, heading).Where(i => all[i].Trim().Length > 0 && !all[i].StartsWith('#')).Select(i => (i + 1, all[i].Trim()))];
        string table = string.Join('\n', all.Skip(heading));
        IEnumerable<(int Line, string[] Cells)> lines = separator switch
        {
            '|' => Split(table, Bars),
            ' ' => Split(table, line => TwoSpaces().Split(line.Trim())),
            _ => Csv(table, separator, name),
        };

        string[]? columns = null;
        var rows = new List<(int, string[])>();
        var refused = new List<RefusedRow>();
        foreach ((int lineOfTable, string[] found) in lines)
        {
            int line = heading + lineOfTable;
            string[] cells = columns is not null && found.Length > columns.Length && found.Skip(columns.Length).All(c => c.Length == 0) ? found[..columns.Length] : found;
            if (columns is null)
            {
                columns = cells.Reverse().SkipWhile(c => c.Length == 0).Reverse().ToArray();
                CheckHeading(columns, name);
            }
            else if (IsNoRow(cells, columns.Length))
            {
                passed.Add((line, string.Join("  ", cells.Where(c => c.Length > 0))));
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

        return columns is null
            ? throw new EvidenceException($"{name} has no line that names the columns.")
            : new TableText(separator, columns, rows, refused, passed);
    }

    /// <summary>A row that is about no card: a note in one cell, or what all cards come to.</summary>
    private static bool IsNoRow(string[] cells, int columns) =>
        (columns > 1 && cells.Count(c => c.Length > 0) == 1 && (cells.Length == 1 || cells[0].Length > 0)) || SummaryWords.Contains(cells[0].TrimEnd(':', '.'));

    /// <summary>
    /// The line that names the columns, and what sets them apart: the first one that names the card, else the one with most known names, else
    /// the first. Null when there is no line at all.
    /// </summary>
    private static (int Index, char Separator)? FindHeading(string[] lines)
    {
        (int Index, char Separator)? best = null;
        int mostKnown = 0;
        int seen = 0;
        for (int i = 0; i < lines.Length && seen < MostTitleLines; i++)
        {
            string line = lines[i].Trim('\r');
            if (line.Trim().Length == 0 || line.StartsWith('#') || Rule().IsMatch(line))
            {
                continue;
            }

            seen++;
            best ??= (i, LikelySeparator(line));
            foreach (char separator in (char[])['|', '\t', ';', ',', ' '])
            {
                string[] cells = [.. (separator switch
                {
                    '|' => Bars(line),
                    ' ' => TwoSpaces().Split(line.Trim()),
                    _ => line.Split(separator),
                }).Select(c => c.Trim().Trim('"'))];
                ColumnUse[] known = cells.Length < 2 ? [] : [.. cells.Select(Headings.Find).OfType<ColumnUse>()];
                if (known.Length > 1 && known.Any(u => u.Field == ColumnField.Tag))
                {
                    return (i, separator);
                }

                if (known.Length > mostKnown)
                {
                    mostKnown = known.Length;
                    best = (i, separator);
                }
            }
        }

        return best;
    }

    private static char LikelySeparator(string heading) => heading switch
    {
        _ when heading.Contains('|', StringComparison.Ordinal) => '|',
        _ when heading.Contains('\t', StringComparison.Ordinal) => '\t',
        _ when heading.Contains(';', StringComparison.Ordinal) => ';',
        _ when heading.Contains(',', StringComparison.Ordinal) => ',',
        _ => ' ',
    };

    private static void CheckHeading(string[] columns, string name)
    {
        if (columns.Length > MostColumns)
        {
            throw new EvidenceException(string.Create(CultureInfo.InvariantCulture, $"{name} has {columns.Length} columns; at most {MostColumns} are read."));
        }

        if (columns.Length == 0)
        {
            throw new EvidenceException($"{name} has no line that names the columns.");
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
