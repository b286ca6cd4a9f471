using System.Globalization;

namespace Cardassay.Identity;

/// <summary>Checks a claim before it is recorded. Pure: the same claim always has the same problems.</summary>
public static class ClaimCheck
{
    /// <summary>
    /// Marks a card can carry: speed class, UHS speed grade, video speed class, application performance class (SD Part 1).
    /// </summary>
    public static readonly IReadOnlyList<string> KnownMarks =
        ["C2", "C4", "C6", "C10", "U1", "U3", "V6", "V10", "V30", "V60", "V90", "A1", "A2"];

    /// <summary>Longest text of one member, characters.</summary>
    public const int MaxTextLength = 200;

    /// <summary>What is wrong, one sentence each, naming the field and the remedy; empty when the claim can be recorded.</summary>
    public static IReadOnlyList<string> Problems(Claim claim)
    {
        ArgumentNullException.ThrowIfNull(claim);
        var problems = new List<string>();
        if (TagProblem(claim.Tag) is { } tag)
        {
            problems.Add(tag);
        }

        CheckText("maker", claim.Maker);
        CheckText("product", claim.Product);
        CheckText("bought-at", claim.BoughtAt);
        if (claim.LabelGigabytes is <= 0 or > 131_072)
        {
            problems.Add("gigabytes: give the number printed on the card, above 0 and at most 131072 (128 TB).");
        }

        foreach (string mark in claim.Marks ?? [])
        {
            if (!KnownMarks.Contains(mark))
            {
                problems.Add($"marks: \"{mark}\" is not a mark; use {string.Join(' ', KnownMarks)}.");
            }
        }

        CheckSpeed("stated-read", claim.StatedReadMegabytesPerSecond);
        CheckSpeed("stated-write", claim.StatedWriteMegabytesPerSecond);
        if (claim.Price < 0)
        {
            problems.Add("price: give a number of at least 0, or leave it out when it is not known.");
        }

        if (claim.Price is not null && claim.Currency is null)
        {
            problems.Add("currency: a price needs its ISO 4217 code, for example EUR.");
        }

        if (claim.Currency is { } currency && !(currency.Length == 3 && currency.All(char.IsAsciiLetterUpper)))
        {
            problems.Add($"currency: \"{currency}\" is not an ISO 4217 code of three capital letters.");
        }

        return problems;

        void CheckText(string field, string? text)
        {
            if (text is { Length: > MaxTextLength })
            {
                problems.Add(string.Create(CultureInfo.InvariantCulture, $"{field}: at most {MaxTextLength} characters."));
            }
            else if (text?.Any(char.IsControl) == true)
            {
                problems.Add($"{field}: control characters are not allowed.");
            }
        }

        void CheckSpeed(string field, double? megabytesPerSecond)
        {
            if (megabytesPerSecond is { } value && !(value is > 0 and < 10_000))
            {
                problems.Add($"{field}: give MB/s above 0 and below 10000.");
            }
        }
    }

    /// <summary>What is wrong with a tag, or null: 1 to 40 characters, no control characters, no white space at the ends.</summary>
    public static string? TagProblem(string tag)
    {
        ArgumentNullException.ThrowIfNull(tag);
        return tag.Length is 0 or > 40 || tag.Any(char.IsControl) || tag.Trim() != tag
            ? "tag: give the sticker's text, 1 to 40 printable characters without spaces at the ends."
            : null;
    }

    /// <summary>
    /// What is wrong with the name of a card, which is a tag or, of another collector's card, TAG@COLLECTOR; null when nothing is.
    /// </summary>
    public static string? NameProblem(string name)
    {
        ArgumentNullException.ThrowIfNull(name);
        int at = name.LastIndexOf('@');
        return TagProblem(at < 0 ? name : name[..at])
            ?? (at >= 0 && TagProblem(name[(at + 1)..]) is not null ? $"tag: \"{name}\" names no collector behind the @." : null);
    }

    /// <summary>Splits marks as people write them ("C10 U1,A1") into upper-case marks.</summary>
    public static IReadOnlyList<string> SplitMarks(string text)
    {
        ArgumentNullException.ThrowIfNull(text);
        return [.. text.Split([' ', ',', ';', '/'], StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries)
            .Select(m => m.ToUpperInvariant()).Where(m => m != "NONE").Distinct()];
    }
}
