using System.Globalization;
using System.Text;

namespace Cardassay.Trust;

/// <summary>
/// Text from cards, boards, files and people, made safe to show. Characters that a terminal obeys, that turn or hide what stands beside
/// them, or that nobody sees become U+FFFD, the replacement character: controls (Cc: escape, C1, line ends), format characters (Cf:
/// bidirectional marks, overrides and isolates, zero-width characters, tags), line and paragraph separators (Zl, Zp), halves of surrogate
/// pairs, noncharacters, and the other code points that Unicode calls default-ignorable. Every output uses this and nothing else.
/// </summary>
/// <remarks>Source: Unicode 16.0, DerivedCoreProperties.txt (Default_Ignorable_Code_Point) and section 23.7 (noncharacters).</remarks>
public static class PlainText
{
    /// <summary>What stands where an unsafe character stood.</summary>
    public const char Replacement = '\uFFFD';

    /// <summary>Default-ignorable code points that are not of the category Format, as first and last.</summary>
    private static readonly (int First, int Last)[] Ignorable =
    [
        (0x034F, 0x034F), (0x115F, 0x1160), (0x17B4, 0x17B5), (0x180B, 0x180F), (0x2065, 0x2065), (0x3164, 0x3164), (0xFE00, 0xFE0F),
        (0xFFA0, 0xFFA0), (0xFFF0, 0xFFF8), (0xE0000, 0xE0FFF),
    ];

    /// <summary>One line of text without unsafe characters.</summary>
    public static string Clean(string text) => Clean(text, keepLines: false);

    /// <summary>Text of several lines without unsafe characters; LF stays.</summary>
    public static string CleanLines(string text) => Clean(text, keepLines: true);

    /// <summary>
    /// JSON whose strings show no unsafe character as it is: each is written as an escape, so that a program
    /// that reads it gets the very text.
    /// </summary>
    /// <param name="json">Valid JSON.</param>
    public static string EscapedJson(string json)
    {
        int first = FirstUnsafe(json, keepLines: true);
        if (first < 0)
        {
            return json;
        }

        var escaped = new StringBuilder(json.Length + 64).Append(json, 0, first);
        for (int at = first; at < json.Length;)
        {
            int length = Length(json, at, out bool isUnsafe);
            for (int i = at; i < at + length; i++)
            {
                // Between its strings JSON has no control characters but these.
                _ = isUnsafe && json[i] is not ('\n' or '\r' or '\t')
                    ? escaped.Append(CultureInfo.InvariantCulture, $"\\u{(int)json[i]:x4}")
                    : escaped.Append(json[i]);
            }

            at += length;
        }

        return escaped.ToString();
    }

    /// <summary>True for a character that is not shown as it is.</summary>
    public static bool IsUnsafe(Rune rune)
    {
        if (rune.Value < 0x80)
        {
            return rune.Value is < 0x20 or 0x7F;
        }

        int value = rune.Value;
        return Rune.GetUnicodeCategory(rune) is UnicodeCategory.Control or UnicodeCategory.Format or UnicodeCategory.LineSeparator
                or UnicodeCategory.ParagraphSeparator or UnicodeCategory.Surrogate
            || (value & 0xFFFE) == 0xFFFE || value is >= 0xFDD0 and <= 0xFDEF
            || Array.Exists(Ignorable, range => value >= range.First && value <= range.Last);
    }

    private static string Clean(string text, bool keepLines)
    {
        int first = FirstUnsafe(text, keepLines);
        if (first < 0)
        {
            return text;
        }

        var clean = new StringBuilder(text.Length).Append(text, 0, first);
        for (int at = first; at < text.Length;)
        {
            int length = Length(text, at, out bool isUnsafe);
            _ = isUnsafe && !(keepLines && text[at] == '\n') ? clean.Append(Replacement) : clean.Append(text, at, length);
            at += length;
        }

        return clean.ToString();
    }

    private static int FirstUnsafe(string text, bool keepLines)
    {
        for (int at = 0; at < text.Length;)
        {
            int length = Length(text, at, out bool isUnsafe);
            if (isUnsafe && !(keepLines && text[at] == '\n'))
            {
                return at;
            }

            at += length;
        }

        return -1;
    }

    /// <summary>How many chars the character at a place takes, and whether it is unsafe; half of a pair is.</summary>
    private static int Length(string text, int at, out bool isUnsafe)
    {
        if (Rune.TryGetRuneAt(text, at, out Rune rune))
        {
            isUnsafe = IsUnsafe(rune);
            return rune.Utf16SequenceLength;
        }

        isUnsafe = true;
        return 1;
    }
}
