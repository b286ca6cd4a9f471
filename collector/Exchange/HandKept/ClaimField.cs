using Cardassay.Identity;

namespace Cardassay.Collector.Exchange.HandKept;

/// <summary>How the text of a member of a claim is read.</summary>
internal enum ClaimShape
{
    /// <summary>As it stands.</summary>
    Text,

    /// <summary>A number with a unit behind it or none: MB/s.</summary>
    Speed,

    /// <summary>A number of GB, or of TB when that stands behind it.</summary>
    Capacity,

    /// <summary>A number, with a currency beside it or none.</summary>
    Money,

    /// <summary>A day.</summary>
    Day,
}

/// <summary>One member of a claim as option and as CSV column.</summary>
/// <param name="Option">The option's name without its dashes.</param>
/// <param name="Column">The column's name.</param>
/// <param name="Sample">What stands for its value in a help text.</param>
/// <param name="Meaning">One sentence.</param>
/// <param name="Shape">How a table's text for it is read.</param>
/// <param name="Set">Puts a text into a claim; throws <see cref="FormatException"/> with a sentence when it cannot be.</param>
internal sealed record ClaimField(string Option, string Column, string Sample, string Meaning, ClaimShape Shape, Func<Claim, string, Claim> Set);
