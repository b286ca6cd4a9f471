using System.Globalization;
using Cardassay.Trials;

namespace Cardassay.Judging;

/// <summary>What rounds of writing until the steady state say of a card, as a sentence. The same on the board and in the report.</summary>
public static class SteadyStatement
{
    /// <summary>The sentence.</summary>
    /// <param name="what">The kind in words ("random write").</param>
    /// <param name="where">The part of the card ("whole card"); "" when not known.</param>
    /// <param name="unit">"IOPS" or "MB/s".</param>
    /// <param name="figures">Figure of every valid round, in order.</param>
    /// <param name="writtenBytes">Bytes all rounds wrote.</param>
    /// <param name="rangeBytes">Bytes they were spread over.</param>
    public static string Of(string what, string where, string unit, IReadOnlyList<double> figures, long writtenBytes, long rangeBytes)
    {
        string rounds = $"{char.ToUpperInvariant(what[0])}{what[1..]}{(where.Length > 0 ? $" ({where})" : "")}, round after round: ";
        if (figures.Count < SteadyState.WindowRounds)
        {
            return string.Create(CultureInfo.InvariantCulture,
                $"{rounds}{figures.Count} valid rounds are too few to tell whether the card is steady.");
        }

        double[] last = [.. figures.TakeLast(SteadyState.WindowRounds)];
        string first = $"{TrialFigure.Text(figures[0])} {unit} in the first";
        return SteadyState.IsReached(figures)
            ? string.Create(CultureInfo.InvariantCulture, $"{rounds}{first}, steady at {TrialFigure.Text(last.Average())} {unit} after "
                + $"{figures.Count}, the mean of the last five.{Bound(writtenBytes, rangeBytes)}")
            : string.Create(CultureInfo.InvariantCulture, $"{rounds}{first}, {TrialFigure.Text(last.Min())} to "
                + $"{TrialFigure.Text(last.Max())} in the last five of {figures.Count}; not steady.");
    }

    /// <summary>
    /// A card may keep its pace for as long as its spare blocks last, which is in proportion to its size: rounds that wrote little of it
    /// cannot tell that from a pace that stays.
    /// </summary>
    private static string Bound(long writtenBytes, long rangeBytes)
    {
        double percent = 100.0 * writtenBytes / rangeBytes;
        string share = percent < 0.1 ? "less than 0.1" : percent.ToString("0.#", CultureInfo.InvariantCulture);
        return percent >= 100 ? "" : $" They wrote {share} % as much as the place holds; how it goes on from there is not known.";
    }
}
