namespace Cardassay.Collector.Exchange.Publishing;

/// <summary>Compares a published text with its pieces and names the first that differs.</summary>
internal static class TextCheck
{
    /// <summary>Characters quoted, and how many of them stand before the first that differs.</summary>
    private const int Most = 160;
    private const int Before = 100;

    /// <summary>No sentence, or one.</summary>
    internal static IEnumerable<string> Difference(IReadOnlyList<Fragment> expected, string actual, string name)
    {
        string text = actual.Replace("\r\n", "\n", StringComparison.Ordinal).TrimStart('\uFEFF');
        int at = 0;
        foreach (Fragment fragment in expected)
        {
            if (!text.AsSpan(at).StartsWith(fragment.Text, StringComparison.Ordinal))
            {
                string there = text[at..Math.Min(text.Length, at + fragment.Text.Length)];
                int from = Math.Max(0, there.AsSpan().CommonPrefixLength(fragment.Text) - Before);
                yield return $"{name}, {fragment.Name}: it says \"{Short(there, from)}\"; the records give \"{Short(fragment.Text, from)}\".";
                yield break;
            }

            at += fragment.Text.Length;
        }

        if (text[at..].Trim().Length > 0)
        {
            yield return $"{name}: \"{Short(text[at..].Trim(), 0)}\" follows behind what the records give.";
        }
    }

    /// <summary>What is around the difference: the beginning of a long sentence may be the same.</summary>
    private static string Short(string text, int from)
    {
        string shown = (from > 0 ? "…" : "") + text[Math.Min(from, text.Length)..].Trim();
        return shown.Length > Most ? shown[..Most] + "…" : shown;
    }
}
