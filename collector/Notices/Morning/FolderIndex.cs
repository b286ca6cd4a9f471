using System.Text.RegularExpressions;
using Cardassay.Collector.Report.Html;

namespace Cardassay.Collector.Notices.Morning;

/// <summary>The page that lists the nights in a folder, the newest first.</summary>
internal static partial class FolderIndex
{
    private const string Mark = "<meta name=generator content=\"Cardassay nights\">";

    /// <summary>True for a page that this class wrote.</summary>
    internal static bool IsOurs(string html) => html.Contains(Mark, StringComparison.Ordinal);

    /// <summary>The page of what is in a folder now.</summary>
    /// <param name="folder">The folder.</param>
    /// <param name="lines">What each night brought; a night without a line is listed without one.</param>
    /// <exception cref="IOException">The folder cannot be read.</exception>
    internal static string Render(string folder, IReadOnlyDictionary<string, string> lines)
    {
        string[] nights = [.. Directory.EnumerateFiles(folder).Select(f => Path.GetFileName(f)).Where(f => NightPage().IsMatch(f))
            .Select(f => f[..10]).OrderDescending(StringComparer.Ordinal)];
        var page = new Page();
        page.Markup("<!doctype html>\n<html lang=en><head><meta charset=utf-8>").Markup(Mark);
        page.Markup("<meta http-equiv=Content-Security-Policy content=\"default-src 'none'; style-src 'unsafe-inline'\">"
            + "<meta name=viewport content=\"width=device-width, initial-scale=1\">");
        page.Markup("<meta name=color-scheme content=\"light dark\"><title>Cardassay: nights</title>\n<style>body{font:1rem/1.5 "
            + "system-ui,sans-serif;max-width:44rem;margin:2rem auto;padding:0 1rem}li{margin:.3rem 0}</style></head>\n");
        page.Markup("<body><h1>Nights</h1>\n<ul>\n");
        foreach (string night in nights)
        {
            page.Markup($"<li><a href=\"{FolderChannel.PageOf(night)}\">{night}</a>")
                .Text(lines.TryGetValue(night, out string? line) ? ": " + line : "");
            foreach ((string ending, string name) in ((string, string)[])[(".md", "Markdown"), ("-table.md", "table")])
            {
                page.Markup(File.Exists(Path.Combine(folder, night + ending)) ? $" · <a href=\"{night}{ending}\">{name}</a>" : "");
            }

            page.Markup("</li>\n");
        }

        return page.Markup("</ul>\n<p>A night is named by the day it begins, noon to noon UTC. "
            + "What changed or needs somebody is as of its report.</p></body></html>\n").ToString();
    }

    [GeneratedRegex(@"\A[0-9]{4}-[0-9]{2}-[0-9]{2}\.html\z")]
    private static partial Regex NightPage();
}
