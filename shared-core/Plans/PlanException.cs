using System.Globalization;

namespace Cardassay.Plans;

/// <summary>A plan cannot be used. The message names source, line, column and key, and says what to do.</summary>
public sealed class PlanException : Exception
{
    /// <summary>Creates it.</summary>
    /// <param name="sourceName">File name or name of the plan.</param>
    /// <param name="line">Line, from 1; 0 when the problem has none (a plan that does not fit its target).</param>
    /// <param name="column">Column in characters, from 1; 0 as above.</param>
    /// <param name="key">The key, as `steps[2].blockBytes`; empty for the whole.</param>
    /// <param name="problem">What is wrong, as a sentence without its final dot.</param>
    /// <param name="remedy">What to do, as a sentence without its final dot.</param>
    public PlanException(string sourceName, int line, int column, string key, string problem, string remedy)
        : base(Compose(sourceName, line, column, key, problem, remedy))
    {
        Line = line;
        Column = column;
        Key = key;
        Problem = problem;
        Remedy = remedy;
    }

    /// <summary>Line, from 1, or 0.</summary>
    public int Line { get; }

    /// <summary>Column in characters, from 1, or 0.</summary>
    public int Column { get; }

    /// <summary>The key, or empty.</summary>
    public string Key { get; }

    /// <summary>What is wrong.</summary>
    public string Problem { get; }

    /// <summary>What to do.</summary>
    public string Remedy { get; }

    private static string Compose(string sourceName, int line, int column, string key, string problem, string remedy)
    {
        string place = line > 0 ? string.Create(CultureInfo.InvariantCulture, $"{sourceName}, line {line}, column {column}") : sourceName;
        string named = key.Length > 0 ? $"{place}, {key}" : place;
        return $"{named}: {problem}. {remedy}.";
    }
}
