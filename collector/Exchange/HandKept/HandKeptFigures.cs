using System.Globalization;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Trials;

namespace Cardassay.Collector.Exchange.HandKept;

/// <summary>The figures of a table, and the rows and cells that are none.</summary>
/// <param name="Taken">In the order of the file.</param>
/// <param name="Refused">Each with its line and the reason.</param>
internal sealed record HandKeptFigures(IReadOnlyList<V1.HandKeptFigure> Taken, IReadOnlyList<RefusedRow> Refused)
{
    /// <summary>Reads the figures.</summary>
    /// <param name="table">The table.</param>
    /// <param name="map">What its columns hold.</param>
    /// <param name="decimalComma">True reads "12,5" as twelve and a half.</param>
    /// <param name="today">No figure is of a later day.</param>
    internal static HandKeptFigures Read(TableText table, ColumnMap map, bool decimalComma, DateOnly today)
    {
        var taken = new List<V1.HandKeptFigure>();
        var refused = new List<RefusedRow>(table.Refused);
        foreach ((int line, string[] cells) in table.Rows)
        {
            string Cell(ColumnField field) => cells.Where((_, i) => map.Uses[i].Field == field).FirstOrDefault() ?? "";
            if (HandKeptCheck.RowProblem(Cell(ColumnField.Tag), Cell(ColumnField.Day), today) is { } problem)
            {
                refused.Add(new RefusedRow(line, problem));
                continue;
            }

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
                    ? (null, "", $"\"{Cell(ColumnField.Metric)}\" is no metric; write one of {string.Join(", ", Metrics.InOrder.Select(Metrics.NameOf))}.")
                    : Figure(cells[i], unitCell, use.Unit, kind.Value, decimalComma);
                if (value is null)
                {
                    refused.Add(new RefusedRow(line, $"{table.Columns[i]}: {why}"));
                    continue;
                }

                var figure = new V1.HandKeptFigure
                {
                    Tag = Cell(ColumnField.Tag), Kind = (V1.TrialKind)kind!.Value, Value = value.Value, Line = (uint)line, AsWritten = written,
                };
                if (Cell(ColumnField.Day).Length > 0)
                {
                    figure.Day = Cell(ColumnField.Day);
                }

                taken.Add(figure);
            }
        }

        return new HandKeptFigures(taken, [.. refused.OrderBy(r => r.Line)]);
    }

    private static (double? Value, string Written, string? Why) Figure(string cell, string unitCell, string? columnUnit, TrialKind kind, bool decimalComma)
    {
        // A unit in the cell outranks the column of units, which outranks what the heading or the mapping said.
        string number = cell;
        string? unit = columnUnit;
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

        if (decimalComma)
        {
            if (number.Contains('.', StringComparison.Ordinal))
            {
                return (null, "", $"\"{number}\" holds a point, and --decimal-comma was given; write it without thousands marks.");
            }

            number = number.Replace(',', '.');
        }
        else if (number.Contains(',', StringComparison.Ordinal))
        {
            return (null, "", $"\"{number}\" holds a comma; write 12.5, or give --decimal-comma. Thousands marks are not read.");
        }

        if (!double.TryParse(number, NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out double value))
        {
            return (null, "", $"\"{number}\" is not a number.");
        }

        if (FigureUnit.Convert(value, unit, kind) is not { } converted)
        {
            return (null, "", $"{Metrics.WordsOf(kind)} is a throughput; {unit} does not fit it.");
        }

        string written = $"{number} {unit ?? Metrics.UnitOf(kind)}";
        return HandKeptCheck.FigureProblem(kind, converted) is { } problem ? (null, "", problem) : (converted, written, null);
    }

    private static TrialKind? KindOf(string name) => Metrics.InOrder.Cast<TrialKind?>().FirstOrDefault(
        k => string.Concat(name.Where(char.IsLetterOrDigit)).Equals(Metrics.NameOf(k!.Value), StringComparison.OrdinalIgnoreCase));

    private static bool IsNothing(string cell) => cell is "" or "-" or "–" or "n/a" or "?";
}
