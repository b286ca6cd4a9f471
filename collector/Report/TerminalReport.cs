using System.Globalization;
using Cardassay.Collector.Report.First;
using Cardassay.Collector.Report.Model;
using Cardassay.Trust;
using Spectre.Console;

namespace Cardassay.Collector.Report;

/// <summary>The report for a terminal of 80 columns: plain text without colour, so that it can be piped, mailed and compared.</summary>
public static class TerminalReport
{
    /// <summary>Columns of the text.</summary>
    public const int Width = 80;

    /// <summary>Renders the model as text with a final newline; no line is longer than <see cref="Width"/> columns.</summary>
    public static string Render(ReportModel model) => FirstPageText.Render(model) + "\n" + Text(console => Everything(console, model));

    internal static string Text(Action<IAnsiConsole> write)
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
        write(console);
        return TrimLines(writer.ToString());
    }

    private static void Everything(IAnsiConsole console, ReportModel model)
    {
        Overview(console, model);
        Ranking(console, model);
        Products(console, model);
        bool full = model.Cards.All(c => !c.IsShort);
        if (!full)
        {
            Heading(console, "Cards");
            Line(console, $"With more than {Wording.Number(ReportBuilder.WholeUpTo)} cards only those with a doubt or a contradiction are described here, and in short; `report CARD` has all of one, `--all-cards` all of every one.");
        }

        foreach (ReportCard card in model.Cards.Where(c => full || c.Findings.Any(f => f.Severity != "note")))
        {
            TerminalCards.Card(console, card, full);
        }

        Price(console, model.Price);
        bool statistics = false;
        foreach (ReportTable table in model.Comparisons)
        {
            if (table.IsStatistics && !statistics)
            {
                statistics = true;
                Heading(console, Wording.Statistics);
                Line(console, Wording.StatisticsLead(model));
            }

            Heading(console, table.Title);
            Line(console, table.Intro);
            Print(console, [.. table.Columns.Select(c => (c.Name, c.IsNumber))], table.Rows);
        }

        Heading(console, "How to read this");
        Bullets(console, [.. model.Method, .. model.Cautions]);
    }

    private static void Overview(IAnsiConsole console, ReportModel model)
    {
        if (model.Invented)
        {
            Line(console, $"*** {Wording.Invented} ***");
            Line(console, Wording.InventedMeaning(model));
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

        if (!Wording.InRankTable(model).Any())
        {
            Line(console, Wording.NotInRankTable(model));
            return;
        }

        Line(console, "Performance 1 is the reference of the profile. No order is known within a group.");
        RankTable(
            console, model, [("Product", false), ("Card", false), ("Price", true), ("Performance", true), ("Verdict, and rank", false)],
            c => [c.Product, c.Title, c.Offer.PriceText, Performance(c), Wording.Notes(c)]);
        Line(console, "Figures: median and n, below it [interval] or range.");
        FigureTable(console, model, Wording.RankedMetrics.Take(3));
        FigureTable(console, model, Wording.RankedMetrics.Skip(3));
        if (Wording.NotInRankTable(model) is { Length: > 0 } left)
        {
            Line(console, left);
        }

        if (model.RankingStatement.Length > 0)
        {
            Line(console, model.RankingStatement);
        }
    }

    private static string Performance(ReportCard card) => card.Composite is not { } composite ? "–"
        : composite.IsInterval ? $"{composite.Value.Text} [{composite.Low.Text}–{composite.High.Text}]" : composite.Value.Text;

    private static void FigureTable(IAnsiConsole console, ReportModel model, IEnumerable<(string Key, string Name)> metrics)
    {
        (string Key, string Name)[] shown = [.. metrics];
        RankTable(console, model, [("Card", false), .. shown.Select(m => (m.Name, true))], c => [c.Title, .. shown.Select(m => MetricCell(c.Metric(m.Key)))]);
    }

    private static void RankTable(IAnsiConsole console, ReportModel model, IReadOnlyList<(string, bool)> columns, Func<ReportCard, string[]> cells)
    {
        Table table = NewTable([("Rank", false), .. columns]);
        int group = int.MinValue;
        foreach (ReportCard card in Wording.InRankTable(model))
        {
            if (Wording.GroupKey(card) is int key && key != group)
            {
                if (group != int.MinValue)
                {
                    table.AddEmptyRow();
                }

                group = key;
            }

            table.AddRow(cells(card).Prepend(card.Rank?.Text ?? "–").Select(c => new Text(Plain(c, keepLines: true))));
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

    internal static string MetricCell(ReportMetric? metric) =>
        metric is null ? "not measured" : $"{metric.Median.Text} {metric.Unit} n={metric.Count}\n{Wording.Bounds(metric)}";

    internal static void Heading(IAnsiConsole console, string title)
    {
        console.WriteLine();
        string text = Plain(title);
        Line(console, text);
        console.WriteLine(new string('─', Math.Min(Width, Math.Max(4, text.Length))));
    }

    internal static void Bullets(IAnsiConsole console, IEnumerable<string> lines)
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

    internal static void Line(IAnsiConsole console, string text)
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

    internal static void Print(IAnsiConsole console, IReadOnlyList<(string Name, bool IsNumber)> columns, IReadOnlyList<IReadOnlyList<string>> rows, bool keepLines = false)
    {
        Table table = NewTable(columns);
        foreach (IReadOnlyList<string> row in rows)
        {
            table.AddRow(row.Select(cell => new Text(Plain(cell, keepLines))));
        }

        console.Write(table);
    }

    private static string Plain(string text, bool keepLines = false) => keepLines ? PlainText.CleanLines(text) : PlainText.Clean(text);

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
