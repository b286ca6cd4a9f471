using Cardassay.Collector.Report.Charts;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Report.Html;

/// <summary>One card: what it claims, what was found, every figure, and what surrounded it.</summary>
internal static class CardSection
{
    /// <summary>Writes the card.</summary>
    /// <param name="page">Where.</param>
    /// <param name="card">The card, whole.</param>
    /// <param name="index">Its place, from 0.</param>
    /// <param name="ranking">Where the ranking is.</param>
    public static void Write(Page page, ReportCard card, int index, string ranking = "#ranking")
    {
        string anchor = RankingSection.Anchor(index);
        page.Markup($"<article class=card id={anchor} aria-labelledby={anchor}-h><header><div><h3 id={anchor}-h>").Text(card.Title);
        page.ElementIf("span class=product", card.Product).Markup("</h3><p class=facts>").Text(Facts(card)).Markup("</p></div>");
        page.Markup("<div class=stamp>");
        VerdictMark.Write(page, card.VerdictKind, card.Verdict);
        page.Markup("<span class=rankline>").Text(RankLine(card)).Markup("</span></div></header>\n");
        ReportFinding[] against = VerdictReasons.Against(card);
        Reasons(page, card, against);
        page.Markup("<div class=two>");
        Claim(page, card);
        page.Markup("<div>");
        Findings(page, card, [.. card.Findings.Except(against)], against.Length > 0);
        Capacity(page, card, isStated: against.Length == 0);
        page.Markup("</div></div>\n");
        Figures(page, card);
        Plots(page, card);
        Latency(page, card);
        Runs(page, card);
        page.Markup($"<p class=back><a href=\"{ranking}\">Back to the ranking</a></p></article>\n");
    }

    /// <summary>State, price and odometer in one line.</summary>
    public static string Facts(ReportCard card)
    {
        List<string> facts = [card.Condition];
        if (card.IsReference)
        {
            facts.Add("reference card");
        }

        if (card.Price is not null)
        {
            facts.Add("price " + card.Price);
        }

        if (card.Composite is not null)
        {
            facts.Add($"performance under the profile {card.Composite.Line}");
        }

        if (card.Floors.Length > 0)
        {
            facts.Add(card.Floors);
        }

        facts.Add($"odometer at least {card.WrittenGigabytes.Text} GB");
        return string.Join(" · ", facts);
    }

    /// <summary>The rank in words.</summary>
    public static string RankLine(ReportCard card) => card.Rank is null
        ? "unranked" + (card.Unranked is { Length: > 0 } why ? ": " + why : "")
        : $"rank {Wording.Rank(card.Rank)} of {Wording.Number(card.Rank.Of)}";

    private static void Claim(Page page, ReportCard card)
    {
        page.Markup("<div><h4>Identity against claim</h4><p class=identity>").Element("code", card.Identity ?? "not read");
        page.Markup(card.IdentityFromRegisters ? "" : " <small>not from registers: name, size and serial of the device</small>")
            .Markup("</p>");
        if (card.ClaimLines.Count == 0)
        {
            page.Markup("<p class=quiet>Nobody has said what this card is meant to be.</p></div>");
            return;
        }

        page.OpenTable("What label and shop say of " + card.Title + ", beside what was found", "claim quietcaption");
        page.HeadRow(("What", false), ("Claimed", false), ("Found", false), ("Agreement", false)).Markup("<tbody>");
        foreach (ClaimLine line in card.ClaimLines)
        {
            page.Markup(line.Agreement is "differs" or "not met" ? "<tr class=differs>" : "<tr>").Element("th scope=row", line.Name);
            if (line.IsMark)
            {
                page.Markup("<td colspan=3><details>").Element("summary", $"{line.Claimed}; {line.Agreement}").Text(line.Found)
                    .Markup("</details></td></tr>");
                continue;
            }

            page.Element("td", line.Claimed.Length > 0 ? line.Claimed : "–").Element("td", line.Found.Length > 0 ? line.Found : "–")
                .Element("td", line.Agreement).Markup("</tr>");
        }

        page.Markup("</tbody>").CloseTable().Markup("</div>");
    }

    /// <summary>What the verdict rests on: the strongest findings against the card, or what stands for it.</summary>
    private static void Reasons(Page page, ReportCard card, ReportFinding[] against)
    {
        if (against.Length > 0)
        {
            FindingList.Write(page, against);
            return;
        }

        page.Markup("<ul class=reasons>");
        foreach (string reason in VerdictReasons.Of(card))
        {
            page.Element("li", reason);
        }

        page.Markup("</ul>");
    }

    private static void Findings(Page page, ReportCard card, IReadOnlyList<ReportFinding> others, bool areMore)
    {
        if (others.Count > 0 || !areMore)
        {
            page.Markup(areMore ? "<h4>Also found</h4>" : "<h4>Findings</h4>");
            FindingList.Write(page, others);
        }

        Missing(page, card);
    }

    private static void Missing(Page page, ReportCard card)
    {
        if (card.VerdictMissing.Count == 0)
        {
            return;
        }

        page.Markup("<p class=missing><i>For a better verdict:</i></p><ul class=missing>");
        foreach (string line in card.VerdictMissing)
        {
            page.Element("li", line);
        }

        page.Markup("</ul>");
    }

    private static void Figures(Page page, ReportCard card)
    {
        if (card.Metrics.Count == 0)
        {
            page.Markup("<p class=quiet>No figure of this card counts.</p>");
            Remarks(page, card);
            return;
        }

        page.Markup("<h4>Figures</h4>").OpenTable("Figures of " + card.Title, "figures quietcaption");
        page.HeadRow(
            ("Metric", false), ("Median", true), ("Bounds", true), ("n", true), ("Unit", false), ("Min", true), ("Max", true),
            ("MAD", true), ("CV", true), ("Bounds are", false), ("Rank", false));
        page.Markup("<tbody>");
        foreach (ReportMetric m in card.Metrics)
        {
            page.Markup("<tr><th scope=row>").Text(m.Name).ElementIf("small", m.Series).Markup("</th>")
                .Element("td class=num", m.Median.Text);
            page.Element("td class=num", Wording.Bounds(m)).Element("td class=num", m.Count).Element("td", m.Unit);
            page.Element("td class=num", m.Minimum.Text).Element("td class=num", m.Maximum.Text)
                .Element("td class=num", m.Mad?.Text ?? "n/a");
            page.Element("td class=num", m.CvPercent is null ? "n/a" : m.CvPercent.Text + " %");
            page.Markup("<td>").Text(m.Bounds).ElementIf("small", m.Settled).Markup("</td><td>")
                .Text(m.Rank is null ? "–" : Wording.Rank(m.Rank)).ElementIf("small", m.Unranked ?? "");
            page.Markup("</td></tr>\n");
        }

        page.Markup("</tbody>").CloseTable();
        Remarks(page, card);
        Every(page, card);
    }

    private static void Remarks(Page page, ReportCard card)
    {
        if (card.Said.Count == 0 && card.NotCounted.Count == 0 && card.Metrics.All(m => m.Remarks.Count == 0))
        {
            return;
        }

        page.Markup("<ul class=remarks>");
        foreach (string line in card.Said.Concat(card.NotCounted))
        {
            page.Element("li", line);
        }

        foreach (ReportMetric m in card.Metrics)
        {
            foreach (string remark in m.Remarks)
            {
                page.Markup("<li>").Element("b", m.Label).Text(": " + remark).Markup("</li>");
            }
        }

        page.Markup("</ul>");
    }

    private static void Every(Page page, ReportCard card)
    {
        page.Markup("<details><summary>Every figure in order</summary>").OpenTable(
            "Every figure of " + card.Title + " in the order measured. Marked ones: w warm-up, c closing repeat (both set aside), "
                + "o outlier (counts), x invalid", "every");
        page.HeadRow(("Metric", false), ("Run", false), ("Median of the run", false), ("Figures in order", false)).Markup("<tbody>");
        foreach (ReportMetric m in card.Metrics)
        {
            foreach (IGrouping<(string When, string Board), ReportPoint> run in m.Points.GroupBy(p => (p.When, p.Board)))
            {
                page.Markup("<tr>").Element("th scope=row", m.Name).Element("td", $"{run.Key.When} {run.Key.Board}".Trim());
                page.Element("td", m.ByRun.FirstOrDefault(r => r.When == run.Key.When && r.Board == run.Key.Board)?.Line ?? "none counts")
                    .Markup("<td>");
                page.Text(string.Join("  ", run.Select(p => p.Value.Text + Mark(p.State))));
                foreach (string remark in run.Where(p => p.Remark.Length > 0).Select(p => $"{p.Value.Text}: {p.Remark}").Distinct())
                {
                    page.Element("small", remark);
                }

                page.Markup("</td></tr>\n");
            }
        }

        page.Markup("</tbody>").CloseTable().Markup("</details>");
    }

    private static string Mark(PointState state) =>
        state switch { PointState.WarmUp => "w", PointState.Closing => "c", PointState.Outlier => "o", PointState.Invalid => "x", _ => "" };

    private static void Plots(Page page, ReportCard card)
    {
        ReportMetric[] metrics = [.. card.Metrics.Where(m => m.Points.Count > 1)];
        RunsScale scale = RunsScale.Of(metrics);
        page.ElementIf("p class=quiet", metrics.Length > 1 ? scale.Words : "").Markup("<div class=charts>");
        if (card.Trend is { } trend)
        {
            PictureChart.Write(page, trend);
        }

        foreach (ReportMetric m in metrics)
        {
            page.Chart($"{m.Name}: every figure", RunsChart.Text(card, m), RunsChart.Draw(m, scale), PlotSvg.Width, PlotSvg.Height,
                RunsChart.LegendOf(m, scale));
        }

        foreach (PointsPicture picture in card.TrialPictures)
        {
            PictureChart.Write(page, picture);
        }

        foreach (ReportTimeline timeline in card.Timelines.Where(t => t.Traces.Any(trace => trace.Values.Count > 1)))
        {
            page.Chart(
                $"{timeline.Name}: second by second", timeline.Text, TimelineChart.Draw(timeline), PlotSvg.Width, PlotSvg.Height,
                TimelineChart.LegendOf(timeline));
        }

        ReportLatency[] latencies = [.. card.Latencies.Where(l => l.Shares.Count > 1)];
        if (latencies.Length > 0)
        {
            IEnumerable<string> lines = latencies.Select(
                l => $"{l.Name} {string.Join(", ", l.Percentiles.Select(p => $"{p.Name} {p.Text}"))}, longest {l.MaxMs.Text} ms");
            string description = $"Share of operations slower than a given time, logarithmic axes: {string.Join("; ", lines)}.";
            page.Chart("Latency: how many operations take longer", description, LatencyChart.Draw(latencies), PlotSvg.Width, PlotSvg.Height,
                LatencyChart.LegendOf(latencies));
        }

        page.Markup("</div>\n");
    }

    private static void Latency(Page page, ReportCard card)
    {
        if (card.Latencies.Count == 0)
        {
            return;
        }

        page.Markup("<h4>Latency</h4>").OpenTable(
            "Latency of " + card.Title + " in milliseconds; n/a where too few operations were recorded for the percentile", "quietcaption");
        page.HeadRow([("Kind", false), ("Operations", true), .. card.Latencies[0].Percentiles.Select(p => (p.Name + ", ms", true)),
            ("Longest, ms", true), ("Stalls", true)]);
        page.Markup("<tbody>");
        foreach (ReportLatency l in card.Latencies)
        {
            page.Markup("<tr>").Element("th scope=row", l.Name).Element("td class=num", Wording.Number(l.Operations));
            foreach (LatencyPercentile p in l.Percentiles)
            {
                page.Element("td class=num", p.Text);
            }

            string stalls = l.StallLimitMs is null ? "not watched" : $"{Wording.Number(l.Stalls)} over {l.StallLimitMs.Text} ms";
            page.Element("td class=num", l.MaxMs.Text).Element("td class=num", stalls).Markup("</tr>");
        }

        page.Markup("</tbody>").CloseTable();
    }

    private static void Capacity(Page page, ReportCard card, bool isStated)
    {
        if (card.Capacity is { } map)
        {
            page.Markup("<h4>Capacity</h4>").ElementIf("p", isStated ? "" : map.Statement)
                .Chart("Address space", map.Statement, CapacityStrip.Draw(map), 340, 44, CapacityStrip.Legend);
        }
        else if (!isStated)
        {
            page.Markup("<h4>Capacity</h4><p class=quiet>No capacity proof has been run on this card; "
                + "its true capacity is not proven.</p>");
        }
    }

    private static void Runs(Page page, ReportCard card)
    {
        if (card.Runs.Count == 0)
        {
            return;
        }

        page.Markup("<h4>Runs and conditions</h4>").OpenTable("Runs on " + card.Title + " and what surrounded them", "runs quietcaption");
        page.HeadRow(
            ("Began", false), ("Board", false), ("Plan", false), ("Target", false), ("Outcome", false), ("Valid trials", true),
            ("Bus", false), ("Governor", false),
            ("Temperature, °C", true), ("Flags", false), ("Written, GB", true));
        page.Markup("<tbody>");
        foreach (ReportRun r in card.Runs)
        {
            page.Markup("<tr>").Element("th scope=row", r.When).Element("td", r.Board).Element("td", r.Plan).Element("td", r.Target)
                .Element("td", r.Outcome);
            page.Element("td class=num", r.Trials).Element("td", r.Bus).Element("td", r.Governor).Element("td class=num", r.Temperature)
                .Element("td", r.Flags);
            page.Element("td class=num", r.WrittenGigabytes.Text).Markup("</tr>\n");
        }

        page.Markup("</tbody>").CloseTable();
    }
}
