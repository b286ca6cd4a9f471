using System.Globalization;
using System.Text;
using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Html;
using Cardassay.Collector.Report.Model;
using Cardassay.Trust;
using MimeKit;

namespace Cardassay.Collector.Notices.Morning;

/// <summary>
/// The first page as a mail, text and HTML, with the whole report attached where it is not too large.
/// Nothing is loaded and nothing runs.
/// </summary>
internal static class MorningMail
{
    /// <summary>
    /// An attached report stays below this, bytes; common practice, no source: many servers end at 10 MB, and a
    /// mail carries four bytes for three.
    /// </summary>
    internal const int MostAttachedBytes = 5_000_000;

    /// <summary>The body.</summary>
    /// <param name="report">The report.</param>
    /// <param name="folders">Where it is written to as well.</param>
    internal static MimeEntity Body(MorningReport report, IReadOnlyList<string> folders)
    {
        byte[] whole = Encoding.UTF8.GetBytes(report.Html);
        bool isAttached = whole.Length < MostAttachedBytes;
        string where = Where(report, whole.Length, isAttached, folders);
        var body = new BodyBuilder
        {
            TextBody = PlainText.CleanLines(report.FirstText) + "\n" + PlainText.CleanLines(where) + "\n",
            HtmlBody = Html(report, where),
        };
        if (isAttached)
        {
            var file = (MimePart)body.Attachments.Add(FolderChannel.PageOf(report.Night), whole, new ContentType("text", "html"));
            file.ContentType.Charset = "utf-8";
            file.ContentTransferEncoding = ContentEncoding.Base64; // byte for byte: as text its line ends would be changed
        }

        return body.ToMessageBody();
    }

    private static string Where(MorningReport report, int bytes, bool isAttached, IReadOnlyList<string> folders) => isAttached
        ? "The whole report is attached: open it in a browser."
        : string.Create(CultureInfo.InvariantCulture, $"The whole report has {bytes / 1e6:0.0} MB, too much for a mail. ")
            + (folders.Count > 0
                ? $"It is written to {string.Join(" and ", folders.Select(f => Path.Combine(f, FolderChannel.PageOf(report.Night))))}."
                : $"On the bench, `cardassay-collector report --night {report.Night} --format html --output report.html` writes it.");

    private static string Html(MorningReport report, string where)
    {
        var page = new Page();
        page.Markup("<!doctype html>\n<html lang=en><head><meta charset=utf-8><title>").Text("Card report, " + report.Span)
            .Markup("</title></head>\n");
        page.Markup("<body style=\"font-family:sans-serif;font-size:15px;line-height:1.45;max-width:44em\"><main>\n");
        if (report.Invented.Length > 0)
        {
            page.Markup("<p style=\"border:2px solid;padding:.4em\"><b>").Text(Wording.Invented).Markup("</b> ").Text(report.Invented)
                .Markup("</p>\n");
        }

        page.Element("h1 style=\"font-size:20px;margin:0\"", "Card report, " + report.Span)
            .Element("p style=\"margin:.2em 0 1em\"", $"Data as of {report.GeneratedFor}; {report.Profile}").Markup("\n");
        foreach (FirstPagePart part in report.FirstPage)
        {
            // those are numbered
            page.Element("h2 style=\"font-size:15px;margin:1em 0 .2em\"", part.Label[..1] + part.Label[1..].ToLowerInvariant())
                .Markup($"<ul style=\"margin:0;padding-left:1.3em{(part.Key == "do-now" ? ";list-style:none" : "")}\">\n");
            foreach (string line in part.Lines)
            {
                page.Markup("<li>");
                Sentence(page, line);
                page.Markup("</li>\n");
            }

            page.Markup("</ul>\n");
        }

        page.Markup("<p style=\"margin-top:1.2em\">");
        Sentence(page, where);
        return page.Markup("</p>\n</main></body></html>\n").ToString();
    }

    private static void Sentence(Page page, string text)
    {
        string[] parts = text.Split('`'); // every second one is a command
        for (int i = 0; i < parts.Length; i++)
        {
            _ = i % 2 == 0 ? page.Text(parts[i]) : page.Element("code", parts[i]);
        }
    }
}
