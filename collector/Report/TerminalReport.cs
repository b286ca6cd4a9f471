using System.Globalization;
using Cardassay.Collector.Report.Model;
using Spectre.Console;

namespace Cardassay.Collector.Report;

/// <summary>The report for a terminal of 80 columns: plain text without colour, so that it can be piped, mailed and compared.</summary>
public static class TerminalReport
{
    /// <summary>Columns of the text.</summary>
    public const int Width = 80;

    /// <summary>Renders the model as text with a final newline; no line is longer than <see cref="Width"/> columns.</summary>
    public static string Render(ReportModel model)
    {
        using var writer = new StringWriter(CultureInfo.InvariantCulture) { NewLine = "\n" };
        IAnsiConsole console = AnsiConsole.Create(new AnsiConsoleSettings
        {
            Ansi = AnsiSupport.No,
            ColorSystem = ColorSystemSupport.NoColors,
            Interactive = InteractionSupport.No,
            Enrichment = new ProfileEnrichment { UseDefaultEnrichers = false },
            Out = new PlainOutput(writer),
        });
        console.Profile.Width = Width;
        console.Profile.Capabilities.Unicode = true;
        Overview(console, model);
        Ranking(console, model);
        Products(console, model);
        bool full = model.Cards.Count <= HtmlReport.FullUpToCards;
        if (!full)
        {
            Heading(console, "Cards");
            Line(console, $"With more than {Wording.Number(HtmlReport.FullUpToCards)} cards only those with a doubt or a contradiction are described here, and in short; --json has every card.");
        }

        foreach (ReportCard card in model.Cards.Where(c => full || c.Findings.Any(f => f.Severity != "note")))
        {
            Card(console, card, full);
        }

        Price(console, model.Price);
        foreach (ReportTable table in model.Comparisons)
        {
            Heading(console, table.Title);
            Line(console, table.Intro);
            Print(console, [.. table.Columns.Select(c => (c.Name, c.IsNumber))], table.Rows);
        }

        Heading(console, "How to read this");
        Bullets(console, [.. model.Method, .. model.Cautions]);
        return TrimLines(writer.ToString());
    }

    private static void Overview(IAnsiConsole console, ReportModel model)
    {
        if (model.Invented)
        {
            Line(console, $"*** {Wording.Invented} ***");
            Line(console, Wording.InventedMeaning);
            console.WriteLine();
        }

        Line(console, "Cardassay report, " + model.Span);
        Line(console, $"data as of {model.GeneratedFor}, profile {model.Profile}");
        console.WriteLine();
        Line(console, Wording.NightLine(model.Night));
        Line(console, "Integrity: " + Wording.IntegrityLine(model.Integrity));
        Bullets(console, model.Night.Troubles.Select(Wording.TroubleLine));
        Bullets(console, model.Integrity.Findings.Select(f => $"{f.Severity}: {f.Text}"));
        if (model.NeedsPerson.Count > 0)
        {
            Heading(console, "Needs a person");
            Bullets(console, model.NeedsPerson.Select(n => $"{n.Subject}: {n.Text} {n.Do}".TrimEnd()));
        }

        if (model.VerdictChanges.Count > 0)
        {
            Heading(console, "Verdicts that changed");
            Bullets(console, model.VerdictChanges.Select(c => $"{c.Card}: {c.Before} → {c.After}"));
        }
    }

    private static void Ranking(IAnsiConsole console, ReportModel model)
    {
        Heading(console, "Ranking");
        if (model.Cards.Count == 0)
        {
            Line(console, "No card has been measured yet.");
            return;
        }

        Line(console, "Each figure: median and n, below it [interval] or range. No order in a group.");
        RankTable(console, model, withVerdict: true, Wording.RankedMetrics.Take(2));
        console.WriteLine();
        RankTable(console, model, withVerdict: false, Wording.RankedMetrics.Skip(2));
    }

    private static void RankTable(IAnsiConsole console, ReportModel model, bool withVerdict, IEnumerable<(string Key, string Name)> metrics)
    {
        (string Key, string Name)[] shown = [.. metrics];
        List<(string, bool)> columns = [("Rank", false), ("Card", false)];
        if (withVerdict)
        {
            columns.Add(("Verdict", false));
        }

        columns.AddRange(shown.Select(m => (m.Name, true)));
        Table table = NewTable(columns);
        int group = int.MinValue;
        foreach (ReportCard card in model.Cards)
        {
            if (Wording.GroupKey(card) is int key && key != group)
            {
                if (group != int.MinValue)
                {
                    table.AddEmptyRow();
                }

                group = key;
            }

            List<string> cells = [card.Rank is { Provisional: true } r ? r.Text + " prov." : Wording.Rank(card.Rank), Plain(card.Title)];
            if (withVerdict)
            {
                cells.Add(card.Verdict);
            }

            cells.AddRange(shown.Select(m => MetricCell(card.Metric(m.Key))));
            table.AddRow(cells.Select(c => new Text(Plain(c, keepLines: true))));
        }

        console.Write(table);
    }

    private static void Products(IAnsiConsole console, ReportModel model)
    {
        if (model.Products.Count > 0)
        {
            Heading(console, "Products as claimed");
            Print(
                console,
                [("Rank", false), ("Product", false), ("Random read", true), ("Random write", true), ("Verdicts", false)],
                [.. model.Products.Select(p => (IReadOnlyList<string>)[Wording.Rank(p.Rank), $"{p.Name} ({p.Specimens})", p.RandomRead, p.RandomWrite, p.Verdicts])]);
        }
    }

    private static void Card(IAnsiConsole console, ReportCard card, bool full)
    {
        Heading(console, card.Product.Length > 0 ? $"{card.Title}, {card.Product}" : card.Title);
        string rank = card.Rank is null ? $"unranked ({card.Unranked})" : $"rank {Wording.Rank(card.Rank)} of {Wording.Number(card.Rank.Of)}";
        Line(console, $"{card.Verdict.ToUpperInvariant()}; {rank}; {card.Condition}");
        Line(console, $"identity {card.Identity ?? "not read"}{(card.IdentityFromRegisters ? "" : " (not from registers)")}");
        Line(console, $"written by all runs {card.WrittenGigabytes.Text} GB{(card.Price is null ? "" : "; price " + card.Price)}");
        if (card.Composite is not null)
        {
            Line(console, $"performance under the profile {card.Composite.Line}{(card.Floors.Length > 0 ? "; " + card.Floors : "")}");
        }

        if (card.Capacity is { } map)
        {
            Line(console, "capacity: " + map.Statement);
        }

        Bullets(console, card.Marks.Select(m => "mark " + m.Line));
        foreach (ReportFinding f in card.Findings)
        {
            Bullets(console, [$"{f.Severity}: {f.Text}{(f.Values.Count > 0 ? $" ({Wording.Values(f.Values)})" : "")}"]);
            if (f.Settles.Length > 0)
            {
                Line(console, "  to settle it: " + f.Settles);
            }
        }

        if (!full)
        {
            return;
        }

        Bullets(console, card.VerdictMissing.Select(m => "for a better verdict: " + m));
        if (card.Metrics.Count > 0)
        {
            Print(
                console,
                [("Metric", false), ("Median", true), ("Bounds", true), ("n", true), ("Unit", false), ("Settled", false)],
                [.. card.Metrics.Select(m => (IReadOnlyList<string>)[m.Name, m.Median.Text, Wording.Bounds(m), m.Count, m.Unit, m.Settled])]);
        }

        if (card.Latencies.Count > 0)
        {
            Print(
                console,
                [("Latency, ms", false), .. card.Latencies[0].Percentiles.Select(p => (p.Name, true)), ("max", true)],
                [.. card.Latencies.Select(l => (IReadOnlyList<string>)[l.Name, .. l.Percentiles.Select(p => p.Text), l.MaxMs.Text])]);
        }

        Bullets(console, card.NotCounted);
        Bullets(console, card.Metrics.SelectMany(m => m.Remarks.Select(r => $"{m.Name}: {r}")));
    }

    private static void Price(IAnsiConsole console, PriceSection? price)
    {
        if (price is null)
        {
            return;
        }

        Heading(console, "Price against performance");
        Print(
            console,
            [("Card", false), ($"Price, {price.Currency}", true), ("Date", false), ("Performance (1 = reference)", true), ("On front", false)],
            [.. price.Points.Select(p => (IReadOnlyList<string>)[p.Card, p.Price.Text, p.PriceDate, p.Composite.Line, p.OnFront ? "yes" : "no"])]);
        if (price.Remark.Length > 0)
        {
            Line(console, price.Remark);
        }
    }

    private static string MetricCell(ReportMetric? metric) =>
        metric is null ? "not measured" : $"{metric.Median.Text} {metric.Unit} n={metric.Count}\n{Wording.Bounds(metric)}";

    private static void Heading(IAnsiConsole console, string title)
    {
        console.WriteLine();
        string text = Plain(title);
        Line(console, text);
        console.WriteLine(new string('─', Math.Min(Width, Math.Max(4, text.Length))));
    }

    private static void Bullets(IAnsiConsole console, IEnumerable<string> lines)
    {
        Grid grid = new Grid().AddColumn(new GridColumn { Width = 1, Padding = new Padding(0, 0, 1, 0), NoWrap = true }).AddColumn(new GridColumn { Padding = new Padding(0) });
        foreach (string line in lines)
        {
            grid.AddRow(new Text("-"), new Text(Plain(line)));
        }

        if (grid.Rows.Count > 0)
        {
            console.Write(grid);
        }
    }

    private static void Line(IAnsiConsole console, string text)
    {
        console.Write(new Text(Plain(text)));
        console.WriteLine();
    }

    private static Table NewTable(IEnumerable<(string Name, bool IsNumber)> columns)
    {
        var table = new Table { Border = TableBorder.Horizontal };
        foreach ((string name, bool isNumber) in columns)
        {
            var column = new TableColumn(new Text(Plain(name))) { Padding = new Padding(0, 0, 1, 0) };
            column.Alignment = isNumber ? Justify.Right : Justify.Left;
            table.AddColumn(column);
        }

        return table;
    }

    private static void Print(IAnsiConsole console, IReadOnlyList<(string Name, bool IsNumber)> columns, IReadOnlyList<IReadOnlyList<string>> rows)
    {
        Table table = NewTable(columns);
        foreach (IReadOnlyList<string> row in rows)
        {
            table.AddRow(row.Select(cell => new Text(Plain(cell))));
        }

        console.Write(table);
    }

    // Text from outside must not move the cursor, change the title or hide a line: control characters become visible blanks.
    private static string Plain(string text, bool keepLines = false) =>
        text.Any(char.IsControl) ? new string([.. text.Select(c => char.IsControl(c) && !(keepLines && c == '\n') ? '\uFFFD' : c)]) : text;

    private static string TrimLines(string text) =>
        string.Join('\n', text.ReplaceLineEndings("\n").Split('\n').Select(line => line.TrimEnd())).TrimEnd('\n') + "\n";

    /// <summary>Output of fixed size that is never a terminal, whatever the process is attached to.</summary>
    private sealed class PlainOutput(TextWriter writer) : IAnsiConsoleOutput
    {
        public TextWriter Writer => writer;

        public bool IsTerminal => false;

        public int Width => TerminalReport.Width;

        public int Height => 24;

        public void SetEncoding(System.Text.Encoding encoding)
        {
        }
    }
}
