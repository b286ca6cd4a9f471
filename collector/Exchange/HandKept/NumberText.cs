using System.Globalization;

namespace Cardassay.Collector.Exchange.HandKept;

/// <summary>Numbers of a table: with a decimal point, or with a decimal comma. Thousands marks are never read: they look like the other one's decimal mark.</summary>
/// <param name="HasComma">True reads "12,5" as twelve and a half.</param>
/// <param name="WasInferred">True when nobody said so and the table shows it.</param>
internal sealed record NumberText(bool HasComma, bool WasInferred)
{
    /// <summary>
    /// As told, else as the table shows: a comma that is not followed by exactly three digits, and no point in any number, is a decimal comma.
    /// In a table whose cells are set apart by commas it is only read when told.
    /// </summary>
    /// <param name="told">True when a person said that there are decimal commas.</param>
    /// <param name="table">The table.</param>
    /// <param name="map">What its columns hold.</param>
    internal static NumberText Of(bool told, TableText table, ColumnMap map)
    {
        if (told || table.Separator == ',')
        {
            return new NumberText(told, WasInferred: false);
        }

        bool comma = false;
        foreach ((_, string[] cells) in table.Rows)
        {
            for (int i = 0; i < cells.Length; i++)
            {
                if (map.Uses[i] is not ({ Field: ColumnField.Figure or ColumnField.Value } or { Claim.Shape: ClaimShape.Speed or ClaimShape.Capacity or ClaimShape.Money }))
                {
                    continue;
                }

                string number = new([.. cells[i].Where(c => char.IsAsciiDigit(c) || c is ',' or '.')]);
                if (number.Contains('.', StringComparison.Ordinal))
                {
                    return new NumberText(false, WasInferred: false);
                }

                int at = number.IndexOf(',', StringComparison.Ordinal);
                comma |= at >= 0 && number.LastIndexOf(',') == at && number.Length - at - 1 != 3;
            }
        }

        return new NumberText(comma, comma);
    }

    /// <summary>The number with a decimal point, as text.</summary>
    /// <exception cref="FormatException">It cannot be told what it means; one sentence.</exception>
    internal string Plain(string number)
    {
        if (HasComma)
        {
            return number.Contains('.', StringComparison.Ordinal)
                ? throw new FormatException($"\"{number}\" holds a point, and the numbers have a decimal comma; write it without thousands marks.")
                : number.Replace(',', '.');
        }

        return number.Contains(',', StringComparison.Ordinal)
            ? throw new FormatException($"\"{number}\" holds a comma; write 12.5, or give --decimal-comma. Thousands marks are not read.")
            : number;
    }

    /// <summary>The number.</summary>
    /// <exception cref="FormatException">It is none.</exception>
    internal double Read(string number) => double.TryParse(Plain(number), NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out double value)
        ? value
        : throw new FormatException($"\"{number}\" is not a number.");
}
