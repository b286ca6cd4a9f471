using System.Net;
using Cardassay.Collector.Report;
using Cardassay.Trust;

namespace Cardassay.Collector.Exchange.Publishing;

/// <summary>A publication as Markdown or HTML, in named pieces.</summary>
public static class PublishedText
{
    /// <summary>Markdown with a table.</summary>
    public static IReadOnlyList<Fragment> Markdown(Publication publication)
    {
        ArgumentNullException.ThrowIfNull(publication);
        List<Fragment> text = [new("## " + MarkdownReport.Escape(publication.Title) + "\n\n", "the title")];
        text.AddRange(publication.Lead.Select(line => new Fragment(MarkdownReport.Escape(line) + "\n\n", "the lead")));
        text.AddRange(publication.Answer.Select(part => new Fragment($"**{part.Label}:** {MarkdownReport.Escape(part.Text)}\n\n", "the answer")));
        text.Add(new(
            "| " + string.Join(" | ", publication.Columns.Select(c => MarkdownReport.Escape(c.Heading))) + " |\n|"
            + string.Concat(publication.Columns.Select(c => c.IsNumber ? " ---: |" : " --- |")) + "\n",
            "the heading of the table"));
        foreach ((string card, IReadOnlyList<string> cells) in publication.Rows)
        {
            for (int i = 0; i < cells.Count; i++)
            {
                text.Add(new("| " + MarkdownReport.Escape(cells[i]) + " ", CellName(card, publication.Columns[i])));
            }

            text.Add(new("|\n", $"the end of the row of card {card}"));
        }

        text.Add(new("\n", "the end of the table"));
        text.AddRange(publication.Method.Select(line => new Fragment("- " + MarkdownReport.Escape(line) + "\n", "the method")));
        string evidence = MarkdownReport.Escape(publication.EvidenceText);
        text.Add(new($"- {(publication.EvidenceLink is { } link ? $"[{evidence}](<{link}>)" : evidence)}.\n", "the link to the evidence"));
        return text;
    }

    /// <summary>HTML: a heading, a table and a list, without style or script, to put into a page.</summary>
    public static IReadOnlyList<Fragment> Html(Publication publication)
    {
        ArgumentNullException.ThrowIfNull(publication);
        List<Fragment> text = [new($"<h2>{Encode(publication.Title)}</h2>\n", "the title")];
        text.AddRange(publication.Lead.Select(line => new Fragment($"<p>{Encode(line)}</p>\n", "the lead")));
        text.AddRange(publication.Answer.Select(part => new Fragment($"<p><strong>{part.Label}:</strong> {Encode(part.Text)}</p>\n", "the answer")));
        text.Add(new(
            "<table>\n<thead>\n<tr>" + string.Concat(publication.Columns.Select(c => $"<th scope=\"col\">{Encode(c.Heading)}</th>")) + "</tr>\n</thead>\n<tbody>\n",
            "the heading of the table"));
        foreach ((string card, IReadOnlyList<string> cells) in publication.Rows)
        {
            text.Add(new("<tr>\n", $"the row of card {card}"));
            for (int i = 0; i < cells.Count; i++)
            {
                text.Add(new($"<td>{Encode(cells[i])}</td>\n", CellName(card, publication.Columns[i])));
            }

            text.Add(new("</tr>\n", $"the end of the row of card {card}"));
        }

        text.Add(new("</tbody>\n</table>\n<ul>\n", "the end of the table"));
        text.AddRange(publication.Method.Select(line => new Fragment($"<li>{Encode(line)}</li>\n", "the method")));
        string evidence = Encode(publication.EvidenceText);
        text.Add(new($"<li>{(publication.EvidenceLink is { } link ? $"<a href=\"{Encode(link)}\">{evidence}</a>" : evidence)}.</li>\n", "the link to the evidence"));
        text.Add(new("</ul>\n", "the end"));
        return text;
    }

    /// <summary>The pieces as one text.</summary>
    public static string Join(IEnumerable<Fragment> fragments) => string.Concat(fragments.Select(f => f.Text));

    private static string CellName(string card, PublicationColumn column) => $"card {card}, {column.Heading}";

    private static string Encode(string text) => WebUtility.HtmlEncode(PlainText.Clean(text.ReplaceLineEndings(" ")));
}
