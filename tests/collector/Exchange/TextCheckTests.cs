using System.Text;
using Cardassay.Collector.Exchange.Publishing;
using Cardassay.Collector.Files;

namespace Cardassay.Collector.Tests.Exchange;

public sealed class TextCheckTests
{
    private const int Seed = 41;
    private static readonly string[] Pieces = ["a", "T-07", "\n", "\r\n", "\r", " ", "12.5", "…", "é", "\uFEFF", ""];

    [Fact]
    public void Difference_OfAnyTexts_IsThatOfTheTextsAsAWhole()
    {
        var random = new Random(Seed);
        (int same, int other) = (0, 0);
        for (int i = 0; i < 4_000; i++)
        {
            Fragment[] expected =
            [
                .. Enumerable.Range(0, random.Next(6))
                    .Select(n => new Fragment(Text(random, random.Next(8)).Replace("\r", "", StringComparison.Ordinal), $"piece {n}")),
            ];
            string given = PublishedText.Join(expected);
            string actual = random.Next(4) switch
            {
                0 => given.Replace("\n", "\r\n", StringComparison.Ordinal),
                1 => given + Text(random, random.Next(200)),
                2 => given[..random.Next(given.Length + 1)] + Text(random, 2) + given[random.Next(given.Length + 1)..],
                _ => given[..random.Next(given.Length + 1)],
            };
            string? whole = OfTheWhole(expected, actual);
            using var check = new TextCheck(expected, "x.md");
            for (int at = 0; at < actual.Length;)
            {
                int length = Math.Min(actual.Length - at, random.Next(1, 9));
                check.Add(actual.AsSpan(at, length));
                at += length;
            }

            Assert.True(whole == check.End(), $"input {i} of seed {Seed}");
            Assert.Equal(whole, TextCheck.Difference(expected, new MemoryStream(Encoding.UTF8.GetBytes(actual)), "x.md").SingleOrDefault());
            (same, other) = whole is null ? (same + 1, other) : (same, other + 1);
        }

        Assert.True(same > 400 && other > 400, $"{same} {other}");
    }

    [Fact]
    public void Difference_OfWhatIsNoText_IsRefusedByName()
    {
        var noText = new MemoryStream([0x61, 0xC3, 0x28]);
        var refused = Assert.Throws<EvidenceException>(() => TextCheck.Difference([new Fragment("a", "a")], noText, "post.md").Count());
        Assert.Contains("post.md is not text in UTF-8", refused.Message, StringComparison.Ordinal);
    }

    private static string Text(Random random, int pieces) =>
        string.Concat(Enumerable.Range(0, pieces).Select(_ => Pieces[random.Next(Pieces.Length)]));

    /// <summary>The same comparison with everything in memory.</summary>
    private static string? OfTheWhole(IReadOnlyList<Fragment> expected, string actual)
    {
        string text = actual.Replace("\r\n", "\n", StringComparison.Ordinal).TrimStart('\uFEFF');
        int at = 0;
        foreach (Fragment fragment in expected)
        {
            if (!text.AsSpan(at).StartsWith(fragment.Text, StringComparison.Ordinal))
            {
                string there = text[at..Math.Min(text.Length, at + fragment.Text.Length)];
                int from = Math.Max(0, there.AsSpan().CommonPrefixLength(fragment.Text) - 100);
                return $"x.md, {fragment.Name}: it says \"{Short(there, from)}\"; the records give \"{Short(fragment.Text, from)}\".";
            }

            at += fragment.Text.Length;
        }

        string behind = text[at..].Trim();
        return behind.Length == 0 ? null : $"x.md: \"{Short(behind, 0)}\" follows behind what the records give.";
    }

    private static string Short(string text, int from)
    {
        string shown = (from > 0 ? "…" : "") + text[Math.Min(from, text.Length)..].Trim();
        return shown.Length > 160 ? shown[..160] + "…" : shown;
    }
}
