using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Collector.Exchange.HandKept;

/// <summary>The figures of a table and what it says of the cards, and the rows and cells that are neither.</summary>
/// <param name="Taken">The figures in the order of the file.</param>
/// <param name="Claims">What it says of cards, with the line.</param>
/// <param name="Numbers">How its numbers are written.</param>
/// <param name="Refused">Each with its line and the reason.</param>
internal sealed record HandKeptFigures(
    IReadOnlyList<V1.HandKeptFigure> Taken, IReadOnlyList<(int Line, Claim Claim)> Claims, NumberText Numbers, IReadOnlyList<RefusedRow> Refused)
{
    /// <summary>Reads a table.</summary>
    /// <param name="table">The table.</param>
    /// <param name="map">What its columns hold.</param>
    /// <param name="decimalComma">True reads "12,5" as twelve and a half; false as the table shows.</param>
    /// <param name="today">No figure is of a later day.</param>
    /// <param name="currency">The currency of prices that have none beside them; null when nobody said.</param>
    internal static HandKeptFigures Read(TableText table, ColumnMap map, bool decimalComma, DateOnly today, string? currency = null)
    {
        NumberText numbers = NumberText.Of(decimalComma, table, map);
        var claims = new List<(int, Claim)>();
        var taken = new List<V1.HandKeptFigure>();
        var refused = new List<RefusedRow>(table.Refused);
        foreach ((int line, string[] cells) in table.Rows)
        {
            string Cell(ColumnField field) => cells.Where((_, i) => map.Uses[i].Field == field).FirstOrDefault() ?? "";
            string day = IsNothing(Cell(ColumnField.Day)) ? "" : Cell(ColumnField.Day);
            string? problem;
            try
            {
                day = DayText.Plain(day);
                problem = HandKeptCheck.RowProblem(Cell(ColumnField.Tag), day, today);
            }
            catch (FormatException e)
            {
                problem = e.Message;
            }

            if (problem is not null)
            {
                refused.Add(new RefusedRow(line, problem));
                continue;
            }

            var wrong = new List<string>();
            if (ClaimCells.Read(Cell(ColumnField.Tag), cells, map, numbers, currency, wrong) is { } claim && wrong.Count == 0)
            {
                claims.Add((line, claim));
            }

            refused.AddRange(wrong.Select(w => new RefusedRow(line, w)));

            for (int i = 0; i < cells.Length; i++)
            {
                ColumnUse use = map.Uses[i];
                if (use.Field is not (ColumnField.Figure or ColumnField.Value) || IsNothing(cells[i]))
                {
                    continue;
                }

                TrialKind? kind = use.Field == ColumnField.Figure ? use.Kind : KindOf(Cell(ColumnField.Metric));
                string unitCell = use.Field == ColumnField.Value ? Cell(ColumnField.Unit) : "";
                (double? value, string written, string? why) = kind is null
                    ? (null, "", $"\"{Cell(ColumnField.Metric)}\" is no metric; write one of {string.Join(", ", TrialKinds.All.Select(TrialKinds.NameOf))}.")
                    : Figure(cells[i], unitCell, use, kind.Value, numbers);
                if (value is null)
                {
                    refused.Add(new RefusedRow(line, $"{table.Columns[i]}: {why}"));
                    continue;
                }

                var figure = new V1.HandKeptFigure
                {
                    Tag = Cell(ColumnField.Tag), Kind = (V1.TrialKind)kind!.Value, Value = value.Value, Line = (uint)line, AsWritten = written,
                };
                if (day.Length > 0)
                {
                    figure.Day = day;
                }

                taken.Add(figure);
            }
        }

        return new HandKeptFigures(taken, claims, numbers, [.. refused.OrderBy(r => r.Line)]);
    }

    /// <summary>True for a cell that says that there is nothing.</summary>
    internal static bool IsNothing(string cell) => cell is "" or "-" or "–" or "n/a" or "?";

    private static (double? Value, string Written, string? Why) Figure(string cell, string unitCell, ColumnUse column, TrialKind kind, NumberText numbers)
    {
        // A unit in the cell outranks the column of units, which outranks what the heading or the mapping said.
        string number = cell;
        string? unit = column.Unit;
        int space = cell.IndexOf(' ', StringComparison.Ordinal);
        string behind = space > 0 ? cell[(space + 1)..].Trim() : unitCell;
        if (behind.Length > 0)
        {
            unit = FigureUnit.Find(behind);
            if (unit is null)
            {
                return (null, "", $"\"{behind}\" is no unit; write one of {string.Join(", ", FigureUnit.Names)}.");
            }

            number = space > 0 ? cell[..space] : cell;
        }
        else if (unit is null && !column.IsSure && TrialKinds.CountsOperations(kind))
        {
            return (null, "", $"nothing says whether {number} is IOPS or a throughput; name the unit in the heading, as in \"random read (MB/s)\", or with --map COLUMN={TrialKinds.NameOf(kind)}:UNIT.");
        }

        double value;
        try
        {
            value = numbers.Read(number);
        }
        catch (FormatException e)
        {
            return (null, "", e.Message);
        }

        if (FigureUnit.Convert(value, unit, kind) is not { } converted)
        {
            return (null, "", $"{TrialKinds.WordsOf(kind)} is a throughput; {unit} does not fit it.");
        }

        string written = $"{number} {unit ?? TrialFigure.UnitOf(kind)}";
        return HandKeptCheck.FigureProblem(kind, converted) is { } problem ? (null, "", problem) : (converted, written, null);
    }

    private static TrialKind? KindOf(string name) => TrialKinds.All.Cast<TrialKind?>().FirstOrDefault(
        k => string.Concat(name.Where(char.IsLetterOrDigit)).Equals(TrialKinds.NameOf(k!.Value), StringComparison.OrdinalIgnoreCase));
}
