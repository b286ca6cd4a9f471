namespace Cardassay.Collector.Exchange.Publishing;

/// <summary>Compares a published text with its pieces and names the first that differs.</summary>
internal static class TextCheck
{
    /// <summary>No sentence, or one.</summary>
    internal static IEnumerable<string> Difference(IReadOnlyList<Fragment> expected, string actual, string name)
    {
        string text = actual.Replace("\r\n", "\n", StringComparison.Ordinal).TrimStart('\uFEFF');
        int at = 0;
        foreach (Fragment fragment in expected)
        {
            if (!text.AsSpan(at).StartsWith(fragment.Text, StringComparison.Ordinal))
            {
                string there = text[at..Math.Min(text.Length, at + fragment.Text.Length)].Trim();
                yield return $"{name}, {fragment.Name}: it says \"{Short(there)}\"; the records give \"{Short(fragment.Text.Trim())}\".";
                yield break;
            }

            at += fragment.Text.Length;
        }

        if (text[at..].Trim().Length > 0)
        {
            yield return $"{name}: \"{Short(text[at..].Trim())}\" follows behind what the records give.";
        }
    }

    private static string Short(string text) => text.Length > 160 ? text[..160] + "…" : text;
}
