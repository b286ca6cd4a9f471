using System.Globalization;

namespace Cardassay.Registers;

/// <summary>A month of manufacture as a register states it, possible or not.</summary>
/// <param name="Year">Calendar year.</param>
/// <param name="Month">1 to 12; 0 and 13 to 15 can be stated but do not exist.</param>
public readonly record struct ManufactureDate(int Year, int Month) : IComparable<ManufactureDate>
{
    /// <summary>True when the month exists.</summary>
    public bool IsPossible => Month is >= 1 and <= 12;

    /// <summary>The month a day lies in.</summary>
    public static ManufactureDate Of(DateOnly day) => new(day.Year, day.Month);

    /// <summary>Months from this one to <paramref name="later"/>; negative when that is earlier.</summary>
    public int MonthsUntil(ManufactureDate later) => ((later.Year - Year) * 12) + later.Month - Month;

    /// <inheritdoc/>
    public int CompareTo(ManufactureDate other) => -MonthsUntil(other);

    /// <summary>"yyyy-MM".</summary>
    public override string ToString() => string.Create(CultureInfo.InvariantCulture, $"{Year:D4}-{Month:D2}");
}
