using System.Globalization;
using Cardassay.Identity;

namespace Cardassay.Collector.Exchange.HandKept;

/// <summary>What the cells of a row say of a card's claim.</summary>
internal static class ClaimCells
{
    /// <summary>The claim of a row; null when its cells say nothing of one.</summary>
    /// <param name="tag">The card.</param>
    /// <param name="cells">The cells.</param>
    /// <param name="map">What they hold.</param>
    /// <param name="numbers">How numbers are written.</param>
    /// <param name="currency">The currency of prices that have none beside them; null when nobody said.</param>
    /// <param name="problems">Gets what is wrong, each with the column.</param>
    internal static Claim? Read(string tag, string[] cells, ColumnMap map, NumberText numbers, string? currency, List<string> problems)
    {
        var texts = new Dictionary<ClaimField, string>();
        string? beside = null;
        for (int i = 0; i < cells.Length; i++)
        {
            if (map.Uses[i] is not { Field: ColumnField.Claim, Claim: { } field } use || HandKeptFigures.IsNothing(cells[i]))
            {
                continue;
            }

            try
            {
                switch (field.Shape)
                {
                    case ClaimShape.Money:
                        (string number, beside) = MoneyText.Split(cells[i]);
                        texts[field] = numbers.Plain(number);
                        beside ??= use.Unit;
                        break;
                    case ClaimShape.Capacity:
                        texts[field] = Gigabytes(cells[i], use.Unit, numbers);
                        break;
                    case ClaimShape.Speed:
                        texts[field] = numbers.Plain(WithoutUnit(cells[i], "MB/s"));
                        break;
                    case ClaimShape.Day:
                        texts[field] = DayText.Plain(cells[i]);
                        break;
                    default:
                        texts[field] = cells[i];
                        break;
                }
            }
            catch (FormatException e)
            {
                problems.Add($"{field.Column}: {e.Message}");
            }
        }

        if (texts.Count == 0)
        {
            return null;
        }

        ClaimField code = ClaimFields.OfColumn("currency")!;
        if (texts.Keys.Any(f => f.Shape == ClaimShape.Money) && !texts.ContainsKey(code) && (beside ?? currency) is { } known)
        {
            texts[code] = known;
        }
        else if (beside is not null && texts.TryGetValue(code, out string? said) && said != beside)
        {
            problems.Add($"currency: the price is in {beside}, the column of currencies says {said}.");
        }

        return ClaimFields.Make(tag, field => texts.GetValueOrDefault(field), field => field.Column, problems);
    }

    private static string Gigabytes(string cell, string? unit, NumberText numbers)
    {
        string text = cell.Trim();
        bool isTera = text.EndsWith("TB", StringComparison.OrdinalIgnoreCase) || (unit == "TB" && char.IsAsciiDigit(text[^1]));
        string plain = numbers.Plain(WithoutUnit(WithoutUnit(text, "GB"), "TB"));
        return isTera && decimal.TryParse(plain, NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out decimal tera)
            ? (tera * 1000).ToString("0.###", CultureInfo.InvariantCulture)
            : plain;
    }

    private static string WithoutUnit(string text, string unit) =>
        text.EndsWith(unit, StringComparison.OrdinalIgnoreCase) ? text[..^unit.Length].TrimEnd() : text;
}
