using System.Text;
using Cardassay.Trust;

namespace Cardassay.Collector.Storage;

/// <summary>What a board may be called.</summary>
internal static class BoardNames
{
    /// <summary>Longest board name kept, characters.</summary>
    internal const int MaxLength = 64;

    /// <summary>A board's name as it may appear in files and reports: printable, no separators, at most 64 characters; "" when nothing is left.</summary>
    internal static string Clean(string wish)
    {
        string kept = new([.. wish.Where(c => (char.IsLetterOrDigit(c) && !PlainText.IsUnsafe(new Rune(c))) || c is '-' or '_' or '.').Take(MaxLength)]);
        return kept.Trim('.');
    }
}
