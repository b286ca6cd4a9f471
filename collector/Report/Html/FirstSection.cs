using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Report.Html;

/// <summary>The first page: what one takes, what goes back, what to do now; then the night in short.</summary>
internal static class FirstSection
{
    /// <summary>Sentences a part shows before the others fold away.</summary>
    private const int ShownAtOnce = 4;

    public static void Write(Page page, ReportModel model)
    {
        if (model.First.Parts.Count == 0)
        {
            return;
        }

        page.Markup("<section class=first aria-labelledby=first><h2 id=first>In short</h2><div class=answers>");
        foreach (FirstPagePart part in model.First.Parts)
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

    private static void Lines(Page page, IEnumerable<string> lines)
    {
        page.Markup("<ul>");
        foreach (string line in lines)
        {
            page.Markup("<li>");
            string[] parts = line.Split('`'); // every second one is a command
            for (int i = 0; i < parts.Length; i++)
            {
                _ = i % 2 == 0 ? page.Text(parts[i]) : page.Element("code", parts[i]);
            }

            page.Markup("</li>");
        }

        page.Markup("</ul>");
    }
}
