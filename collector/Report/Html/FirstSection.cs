using System.Text.RegularExpressions;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Report.Html;

/// <summary>The first page: what one takes, what goes back, what to do now; then the night in short.</summary>
internal static partial class FirstSection
{
    /// <summary>Sentences a part shows before the others fold away.</summary>
    private const int ShownAtOnce = 4;

    public static void Write(Page page, ReportModel model)
    {
        if (model.First.Count == 0)
        {
            return;
        }

        page.Markup("<section class=first aria-labelledby=first><h2 id=first>In short</h2><div class=answers>");
        foreach (FirstPagePart part in model.First)
        {
            page.Markup($"<div class={part.Key}>").Element("h3", Sentence(part.Label));
            Lines(page, part.Lines.Take(ShownAtOnce));
            if (part.Lines.Count > ShownAtOnce)
            {
                page.Markup("<details>").Element("summary", $"{Wording.Number(part.Lines.Count - ShownAtOnce)} more");
                Lines(page, part.Lines.Skip(ShownAtOnce));
                page.Markup("</details>");
            }

            if (part.Key == "send-back" && LettersSection.IsWritten(model))
            {
                page.Markup("<p><a href=\"#letters\">Letters to the shops</a></p>");
            }

            page.Markup("</div>\n");
        }

        page.Markup("</div></section>\n");
    }

    private static string Sentence(string label) => label[..1] + label[1..].ToLowerInvariant();

    /// <summary>A list of sentences, with what stands between backticks as commands.</summary>
    internal static void Lines(Page page, IEnumerable<string> lines)
    {
        page.Markup("<ul>");
        foreach (string line in lines)
        {
            page.Markup("<li>");
            string[] parts = line.Split('`'); // every second one is a command
            for (int i = 0; i < parts.Length; i++)
            {
                _ = i % 2 == 0 ? Words(page, parts[i]) : page.Element("code", parts[i]);
            }

            page.Markup("</li>");
        }

        page.Markup("</ul>");
    }

    /// <summary>Text in which no line ends within a tag such as T-17.</summary>
    private static Page Words(Page page, string text)
    {
        int from = 0;
        foreach (ValueMatch tag in Tags().EnumerateMatches(text))
        {
            page.Text(text[from..tag.Index]).Element("span class=tag", text.Substring(tag.Index, tag.Length));
            from = tag.Index + tag.Length;
        }

        return page.Text(text[from..]);
    }

    [GeneratedRegex(@"\b[A-Za-z0-9]{1,12}-[0-9]{1,8}\b")]
    private static partial Regex Tags();
}
