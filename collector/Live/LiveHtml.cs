using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Html;

namespace Cardassay.Collector.Live;

/// <summary>
/// The live page. The server words and escapes everything; the script only puts newer parts in the place of older ones, so that the page
/// reads the same without it.
/// </summary>
internal static class LiveHtml
{
    /// <summary>What the page may load and do: its own two files and its own stream, nothing else.</summary>
    public const string Policy =
        "default-src 'none'; style-src 'self'; script-src 'self'; connect-src 'self'; base-uri 'none'; "
            + "form-action 'none'; frame-ancestors 'none'";

    private static readonly (string Format, string Name)[] Renderings = [("html", "page"), ("terminal", "text"), ("markdown", "Markdown"),
        ("csv", "CSV"), ("json", "JSON")];

    /// <summary>The whole document.</summary>
    public static string Document(LiveState state)
    {
        var page = new Page();
        page.Markup("<!doctype html>\n<html lang=en><head><meta charset=utf-8>"
            + "<meta name=viewport content=\"width=device-width, initial-scale=1\">");
        page.Markup("<meta name=color-scheme content=\"light dark\"><title>Cardassay collector</title>"
            + "<link rel=stylesheet href=\"/live.css\">");
        page.Markup("<noscript><meta http-equiv=refresh content=10></noscript></head>\n<body>"
            + "<a class=skip href=\"#findings\">Skip to the findings</a>");
        page.Markup("<header class=mast><p class=house>Cardassay</p><h1>The bench right now</h1><p id=said role=status>As of the moment "
            + "this page was loaded.</p></header>\n<main>");
        page.Markup(Parts(state)).Markup("</main>\n<script src=\"/live.js\"></script></body></html>\n");
        return page.ToString();
    }

    /// <summary>The parts that change, each in an element with a name of its own.</summary>
    public static string Parts(LiveState state)
    {
        var page = new Page();
        page.Markup("<div data-part=invented>");
        if (state.Invented)
        {
            page.Markup("<p class=invented><b>").Text(Wording.Invented).Markup("</b> ")
                .Text("Some of what is shown here is made up; every report says what.").Markup("</p>");
        }

        page.Markup("</div>\n");
        Boards(page, state);
        Attention(page, state);
        Nights(page, state);
        return page.ToString();
    }

    private static void Boards(Page page, LiveState state)
    {
        page.Markup("<section aria-labelledby=boards><h2 id=boards>Boards</h2><div data-part=boards>");
        if (state.Boards.Count == 0)
        {
            page.Markup("<p class=quiet>No board has reported since this collector started.</p>");
        }
        else
        {
            page.Markup("<ul class=boards>");
            foreach (LiveBoard board in state.Boards)
            {
                Board(page, board);
            }

            page.Markup("</ul>");
        }

        page.Markup("</div></section>\n");
    }

    private static void Board(Page page, LiveBoard board)
    {
        page.Markup("<li class=board><h3>").Text(board.Name).Markup("</h3>").ElementIf("p class=quiet", board.Model);
        page.Markup(board.Connected
            ? "<p class=\"state on\"><svg viewBox=\"0 0 12 12\" aria-hidden=true><circle cx=6 cy=6 r=5 /></svg>connected</p>"
            : "<p class=\"state off\"><svg viewBox=\"0 0 12 12\" aria-hidden=true><circle cx=6 cy=6 r=4.2 /></svg>away</p>");
        page.Element("p class=doing", board.Doing);
        if (board.Percent is int percent)
        {
            // Name and value for those who do not see the bar.
            page.Markup($"<p class=bar><progress max=100 value={Wording.Number(percent)} "
                + "aria-label=\"Progress of the run\"></progress> <span>");
            page.Text($"{Wording.Number(percent)} %{(board.Left.Length > 0 ? ", " + board.Left : "")}").Markup("</span></p>");
        }

        if (board.Steps.Count > 0)
        {
            FirstSection.Lines(page, board.Steps);
        }

        page.Markup("<dl>");
        Fact(page, "Last heard", board.LastHeard);
        Fact(page, "Cards", board.Cards);
        Fact(page, "Records received", board.Records);
        Fact(page, "Waiting when last heard", board.Backlog);
        page.Markup("</dl></li>");
    }

    private static void Fact(Page page, string name, string value)
    {
        if (value.Length > 0)
        {
            page.Element("dt", name).Element("dd", value);
        }
    }

    private static void Attention(Page page, LiveState state)
    {
        page.Markup("<section aria-labelledby=findings><h2 id=findings tabindex=-1>Last findings</h2><div data-part=findings>");
        if (state.Reading)
        {
            page.Markup("<p class=quiet>The records are being read.</p></div></section>\n");
            return;
        }

        page.Markup("<p class=integrity><b>Integrity.</b> ").Text(state.Integrity).Markup("</p>");
        page.Markup("<div class=two>");
        string[] asks = [.. state.Boards.SelectMany(b => b.Asks), .. state.NeedsPerson];
        if (asks.Length > 0)
        {
            page.Markup("<div><h3>Needs a person</h3>");
            FirstSection.Lines(page, asks);
            page.Markup("</div>");
        }

        page.Markup("<div><h3>Doubts and contradictions</h3>");
        if (state.Findings.Count == 0)
        {
            page.Markup("<p class=quiet>None on any card that was measured.</p>");
        }

        page.Markup("<ul class=findings>");
        foreach (LiveFinding finding in state.Findings)
        {
            string style = finding.Severity == "contradiction" ? "contradiction" : "doubt";
            page.Markup($"<li class=\"finding {style}\"><b class=sev>").Text(finding.Severity).Markup("</b> <b>").Text(finding.Card)
                .Markup("</b> ").Text(finding.Text);
            page.ElementIf("small", finding.When.Length > 0 ? $"card last measured {finding.When} UTC" : "").Markup("</li>");
        }

        page.Markup("</ul>");
        if (state.AllFindings > state.Findings.Count)
        {
            page.Element("p class=quiet",
                $"{Wording.Number(state.Findings.Count)} of {Wording.Number(state.AllFindings)}; the report has all of them.");
        }

        page.Markup("</div></div>");
        Proofs(page, state);
        page.Markup("</div></section>\n");
    }

    private static void Proofs(Page page, LiveState state)
    {
        if (state.Proofs.Count == 0)
        {
            return;
        }

        page.Markup("<div><h3>Capacity proofs</h3><ul>");
        foreach (LiveProof proof in state.Proofs)
        {
            page.Markup("<li><b>").Text(proof.Card).Markup("</b> ").Text(proof.Statement);
            page.ElementIf("small", proof.When.Length > 0 ? $"card last measured {proof.When} UTC" : "").Markup("</li>");
        }

        page.Markup("</ul>");
        if (state.AllProofs > state.Proofs.Count)
        {
            page.Element("p class=quiet",
                $"{Wording.Number(state.Proofs.Count)} of {Wording.Number(state.AllProofs)}; the report has all of them.");
        }

        page.Markup("</div>");
    }

    private static void Nights(Page page, LiveState state)
    {
        page.Markup("<section aria-labelledby=nights><h2 id=nights>Reports</h2><p>As everything stands now: ");
        Links(page, "", "everything");
        page.Markup("</p><div data-part=nights>");
        if (state.Nights.Count == 0)
        {
            page.Markup(
                state.Reading ? "<p class=quiet>The records are being read.</p>" : "<p class=quiet>Nothing has been measured yet.</p>");
        }
        else
        {
            page.Markup("<div class=scroll role=region aria-labelledby=nightlist tabindex=0><table>"
                + "<caption id=nightlist>Every night with its report, as things stood when that night was over</caption>");
            page.HeadRow(("Night", false), ("Runs", true), ("Cards", true), ("Boards", true), ("Report", false)).Markup("<tbody>");
            foreach (LiveNight night in state.Nights)
            {
                page.Markup("<tr>").Element("th scope=row", night.Span).Element("td class=num", Wording.Number(night.Runs))
                    .Element("td class=num", Wording.Number(night.Cards));
                page.Element("td class=num", Wording.Number(night.Boards)).Markup("<td class=links>");
                Links(page, night.Id, night.Span);
                page.Markup("</td></tr>\n");
            }

            page.Markup("</tbody></table></div>");
        }

        page.Markup("</div></section>\n");
    }

    private static void Links(Page page, string night, string what)
    {
        string query = night.Length > 0 ? "night=" + night + "&amp;" : "";
        foreach ((string format, string name) in Renderings)
        {
            page.Markup($"<a href=\"/report?{query}format={format}\">").Element("span", name)
                .Element("span class=unseen", " report of " + what).Markup("</a> ");
        }
    }
}
