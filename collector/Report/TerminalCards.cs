using Cardassay.Collector.Report.Model;
using Cardassay.Trust;
using Spectre.Console;
using static Cardassay.Collector.Report.TerminalReport;

namespace Cardassay.Collector.Report;

/// <summary>Cards for a terminal of 80 columns: the own page of one, or several side by side.</summary>
public static class TerminalCards
{
    /// <summary>Cards beside each other in one table.</summary>
    private const int Beside = 3;

    /// <summary>What the registers say of a card, in the words of its table of claims.</summary>
    private static readonly string[] Registers = ["Maker", "Product", "Capacity, GB", "Marks", "Manufactured", "Serial number", "Family", "Register checksums"];

    /// <summary>The pages of some cards: one alone with all that is known of it, several side by side before that.</summary>
    /// <param name="model">The report.</param>
    /// <param name="cards">Cards of it, at least one.</param>
    /// <param name="comparisons">How they compare by the model that ranks them.</param>
    public static string Render(ReportModel model, IReadOnlyList<ReportCard> cards, IReadOnlyList<CardComparison> comparisons) => Text(console =>
    {
        if (model.Invented)
        {
            Line(console, $"*** {Wording.Invented} ***");
        }

        Line(console, $"{model.Span}; data as of {model.GeneratedFor}; profile {model.Profile}");
        if (cards.Count > 1)
        {
            SideBySide(console, cards);
            Differences(console, comparisons);
        }

        foreach (ReportCard card in cards)
        {
            Card(console, card, full: true);
            if (card.Runs.Count > 0)
            {
                console.WriteLine();
                Print(
                    console,
                    [("Run", false), ("Board", false), ("Plan", false), ("Trials", true), ("Outcome", false)],
                    [.. card.Runs.Select(r => (IReadOnlyList<string>)[r.When, r.Board, r.Plan, r.Trials, r.Outcome])]);
            }
        }
    });

    private static void SideBySide(IAnsiConsole console, IReadOnlyList<ReportCard> cards)
    {
        Heading(console, "Side by side");
        foreach (ReportCard[] shown in cards.Chunk(Beside))
        {
            List<IReadOnlyList<string>> rows =
            [
                ["Product", .. shown.Select(c => Clean(c.Product))],
                ["Verdict", .. shown.Select(c => Clean(c.Verdict))],
                ["Price", .. shown.Select(c => Clean(c.Price ?? "unknown"))],
                ["Rank", .. shown.Select(c => c.Rank is null ? "unranked: " + Clean(c.Unranked ?? "") : $"{Wording.Rank(c.Rank)} of {Wording.Number(c.Rank.Of)}")],
                ["Performance (1 = reference)", .. shown.Select(c => Clean(c.Composite?.Line ?? "–"))],
                .. Wording.RankedMetrics.Where(m => shown.Any(c => c.Metric(m.Key) is not null))
                    .Select(m => (IReadOnlyList<string>)[m.Name, .. shown.Select(c => MetricCell(c.Metric(m.Key)))]),
            ];
            Print(console, [("", false), .. shown.Select(c => (c.Title, false))], rows, keepLines: true);
        }

        RegistersThatDiffer(console, cards);
    }

    private static void RegistersThatDiffer(IAnsiConsole console, IReadOnlyList<ReportCard> cards)
    {
        if (cards.Any(c => !c.IdentityFromRegisters))
        {
            Line(console, "Registers are not compared: those of a card are hidden.");
            return;
        }

        (string Name, string[] Found)[] differing =
        [
            .. Registers.Select(name => (Name: name, Found: cards.Select(c => c.ClaimLines.FirstOrDefault(l => l.Name == name)?.Found ?? "").ToArray()))
                .Where(r => r.Found.Distinct(StringComparer.Ordinal).Skip(1).Any()),
        ];
        if (differing.Length == 0)
        {
            Line(console, "Nothing differs in what their registers say.");
            return;
        }

        Line(console, "Registers that differ:");
        for (int from = 0; from < cards.Count; from += Beside)
        {
            Print(
                console, [("", false), .. cards.Skip(from).Take(Beside).Select(c => (c.Title, false))],
                [.. differing.Select(r => (IReadOnlyList<string>)[r.Name, .. r.Found.Skip(from).Take(Beside)])]);
        }
    }

    private static void Differences(IAnsiConsole console, IReadOnlyList<CardComparison> comparisons)
    {
        foreach (CardComparison pair in comparisons)
        {
            Heading(console, $"{pair.One} against {pair.Other}");
            Line(console, pair.Sentence);
            if (pair.Figures.Count > 0)
            {
                Print(console, [("", false), ($"{pair.One} above {pair.Other}", true)], [.. pair.Figures.Select(f => (IReadOnlyList<string>)[f.Name, f.Line])]);
            }
        }

        if (comparisons.Any(c => c.Figures.Count > 0))
        {
            Line(console, "Each line holds at 95 % for all ranked cards at once; the lines of a table do not hold together. What boards differ by is taken out.");
        }
    }

    /// <summary>One card: its verdict with the strongest reasons, what it is, its figures, and the rest of the evidence.</summary>
    /// <param name="console">Where to.</param>
    /// <param name="card">The card.</param>
    /// <param name="full">False for the verdict and the findings alone.</param>
    internal static void Card(IAnsiConsole console, ReportCard card, bool full)
    {
        Heading(console, card.Product.Length > 0 ? $"{card.Title}, {card.Product}" : card.Title);
        Line(console, card.Verdict.ToUpperInvariant());
        ReportFinding[] against = VerdictReasons.Against(card);
        Findings(console, against);
        if (against.Length == 0)
        {
            Bullets(console, VerdictReasons.Of(card));
        }

        string rank = card.Rank is null ? $"unranked ({card.Unranked})" : $"rank {Wording.Rank(card.Rank)} of {Wording.Number(card.Rank.Of)}";
        Line(console, $"{rank}; {card.Condition}; price {card.Price ?? "unknown"}");
        if (card.Composite is not null)
        {
            Line(console, $"performance under the profile {card.Composite.Line}{(card.Floors.Length > 0 ? "; " + card.Floors : "")}");
        }

        Line(console, $"identity {card.Identity ?? "not read"}{(card.IdentityFromRegisters ? "" : " (not from registers)")}; written by all runs {card.WrittenGigabytes.Text} GB");
        if (card.Capacity is { } map && against.Length > 0)
        {
            Line(console, "capacity: " + map.Statement);
        }

        if (full)
        {
            Bullets(console, card.VerdictMissing.Except(against.Select(f => f.Settles), StringComparer.Ordinal).Select(m => "for a better verdict: " + m));
            Figures(console, card);
        }

        Findings(console, card.Findings.Except(against));
        Bullets(console, card.Marks.Select(m => "mark " + m.Line));
        if (full)
        {
            Bullets(console, card.Said);
            Bullets(console, card.NotCounted);
            Bullets(console, card.Metrics.SelectMany(m => m.Remarks.Select(r => $"{m.Label}: {r}")));
        }
    }

    private static void Findings(IAnsiConsole console, IEnumerable<ReportFinding> findings) => Bullets(console, findings.Select(f =>
        $"{f.Severity}: {f.Text}{(f.Values.Count > 0 ? $" ({Wording.Values(f.Values)})" : "")}{(f.Settles.Length > 0 ? " To settle it: " + f.Settles : "")}"));

    private static void Figures(IAnsiConsole console, ReportCard card)
    {
        if (card.Metrics.Count > 0)
        {
            Print(
                console,
                [("Metric", false), ("Median", true), ("Bounds", true), ("n", true), ("Unit", false), ("Settled", false)],
                [.. card.Metrics.Select(m => (IReadOnlyList<string>)[m.Label, m.Median.Text, Wording.Bounds(m), m.Count, m.Unit, m.Settled])]);
        }

        if (card.Latencies.Count > 0)
        {
            Print(
                console,
                [("Latency, ms", false), .. card.Latencies[0].Percentiles.Select(p => (p.Name, true)), ("max", true)],
                [.. card.Latencies.Select(l => (IReadOnlyList<string>)[l.Name, .. l.Percentiles.Select(p => p.Text), l.MaxMs.Text])]);
        }
    }

    private static string Clean(string text) => PlainText.Clean(text);
}
