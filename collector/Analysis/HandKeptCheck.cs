using System.Globalization;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Collector.Analysis;

/// <summary>Checks a figure kept by hand before it is recorded. Pure.</summary>
public static class HandKeptCheck
{
    /// <summary>More than any card can do (common practice, no source): a figure above is a wrong unit.</summary>
    private const double MostIops = 1e6;
    private const double MostMegabytesPerSecond = 5_000;

    /// <summary>The day before which no such card was sold (the first ones are of 1999, from memory).</summary>
    private static readonly DateOnly FirstDay = new(1999, 1, 1);

    /// <summary>What is wrong with the card or the day, as a sentence that says what to do; null when nothing is.</summary>
    /// <param name="tag">Tag of the card.</param>
    /// <param name="day">yyyy-MM-dd, or "" when nobody knows.</param>
    /// <param name="today">No figure is of a later day.</param>
    public static string? RowProblem(string tag, string day, DateOnly today)
    {
        if (string.IsNullOrEmpty(tag))
        {
            return "The card is missing: write its tag.";
        }

        if (ClaimCheck.Problems(new Claim { Tag = tag }) is [{ } problem, ..])
        {
            return problem;
        }

        return string.IsNullOrEmpty(day)
            || (DateOnly.TryParseExact(day, "yyyy-MM-dd", CultureInfo.InvariantCulture, DateTimeStyles.None, out DateOnly date) && date >= FirstDay && date <= today)
                ? null
                : $"\"{day}\" is no day between 1999 and today; write it like 2026-02-28.";
    }

    /// <summary>What is wrong with a figure in the unit of its metric, as a sentence; null when nothing is.</summary>
    public static string? FigureProblem(TrialKind kind, double value)
    {
        if (!TrialKinds.IsKnown(kind))
        {
            return "It names no metric this version knows.";
        }

        double most = TrialKinds.CountsOperations(kind) ? MostIops : MostMegabytesPerSecond;
        return value > 0 && value <= most
            ? null
            : string.Create(CultureInfo.InvariantCulture, $"{value:G6} {TrialFigure.UnitOf(kind)} is not above 0 and at most {most:0}; look at the unit.");
    }
}
