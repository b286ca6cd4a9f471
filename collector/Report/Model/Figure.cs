using System.Globalization;
using System.Text.Json.Serialization;

namespace Cardassay.Collector.Report.Model;

/// <summary>
/// One number of the report, rounded once. All renderings print <see cref="Text"/>, so they cannot differ by a digit;
/// <see cref="Raw"/> serves charts and sorting only.
/// </summary>
/// <param name="Raw">The number before rounding.</param>
/// <param name="Text">The number as printed, invariant culture, without grouping and without a unit.</param>
[JsonConverter(typeof(FigureConverter))]
public sealed record Figure(double Raw, string Text)
{
    /// <summary>Rounds half to even at <paramref name="decimals"/> places (0 to 9).</summary>
    public static Figure Of(double raw, int decimals)
    {
        // "-0" is 0 to every reader.
        double rounded = Math.Round(raw, decimals) + 0.0;
        string text = rounded.ToString("F" + decimals.ToString(CultureInfo.InvariantCulture), CultureInfo.InvariantCulture);
        return new Figure(raw, rounded == 0 ? text.TrimStart('-') : text);
    }

    /// <summary>Rounds to the places of <see cref="DecimalsFor"/> the number itself.</summary>
    public static Figure Of(double raw) => Of(raw, DecimalsFor(raw));

    /// <summary>
    /// Places that show four significant digits of <paramref name="reference"/>, at most two and never cutting whole digits: 5412,
    /// 812.3, 81.23, 0.12. A median lends its places to its interval, so that a line of figures stays comparable.
    /// </summary>
    public static int DecimalsFor(double reference)
    {
        double size = Math.Abs(reference);
        return size >= 1000 ? 0 : size >= 100 ? 1 : 2;
    }

    /// <inheritdoc/>
    public override string ToString() => Text;
}
