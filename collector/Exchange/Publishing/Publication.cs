using Cardassay.Collector.Report;
using Cardassay.Collector.Report.First;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Exchange.Publishing;

/// <summary>A table for a post or a video description, with what a reader needs to judge it.</summary>
public sealed record Publication
{
    /// <summary>Reasons against cards that are named before the table; the table has all.</summary>
    private const int MostToAvoid = 4;

    /// <summary>Heading.</summary>
    public required string Title { get; init; }

    /// <summary>Sentences before the table: demonstration data, date, ranking.</summary>
    public required IReadOnlyList<string> Lead { get; init; }

    /// <summary>Which card to take, which not, and how sure that is: a label and sentences each.</summary>
    public required IReadOnlyList<(string Label, string Text)> Answer { get; init; }

    /// <summary>The columns.</summary>
    public required IReadOnlyList<PublicationColumn> Columns { get; init; }

    /// <summary>The rows: the card and one cell for each column.</summary>
    public required IReadOnlyList<(string Card, IReadOnlyList<string> Cells)> Rows { get; init; }

    /// <summary>How the figures came about and what they do not say, in two sentences, then the conditions they share.</summary>
    public required IReadOnlyList<string> Method { get; init; }

    /// <summary>What to call the evidence in a link.</summary>
    public required string EvidenceText { get; init; }

    /// <summary>Its address, or null while nobody said.</summary>
    public required string? EvidenceLink { get; init; }

    /// <summary>Chooses rows and columns of a report.</summary>
    /// <param name="model">The report, of what will be published and nothing else.</param>
    /// <param name="options">What to show.</param>
    /// <param name="records">Raw records behind it.</param>
    /// <exception cref="ArgumentException">No such column or card; the message says what to do.</exception>
    public static Publication Of(ReportModel model, PublicationOptions options, int records)
    {
        ArgumentNullException.ThrowIfNull(model);
        ArgumentNullException.ThrowIfNull(options);
        PublicationColumn[] columns = [.. options.Columns.Select(key => PublicationColumns.Find(key)
            ?? throw new ArgumentException($"--columns: there is no column \"{key}\"; see --help-columns."))];
        if (columns.Length == 0)
        {
            throw new ArgumentException("--columns: name at least one column; see --help-columns.");
        }

        if (!options.Prices && columns.Any(c => c.Key == PublicationColumns.Price))
        {
            throw new ArgumentException("--columns: the column \"price\" needs --prices, which is your consent to publish them.");
        }

        if (options.Cards.FirstOrDefault(tag => model.Cards.All(c => c.Title != tag)) is { } unknown)
        {
            throw new ArgumentException($"--cards: there is no card \"{unknown}\"; see `cards`.");
        }

        bool all = options.Cards.Count == 0;
        ReportCard[] cards = [.. all ? Wording.InRankTable(model) : model.Cards.Where(c => options.Cards.Contains(c.Title))];
        return new Publication
        {
            Title = "SD cards measured",
            Lead =
            [
                .. model.Invented ? (string[])[$"{Wording.Invented}. {Wording.InventedMeaning(model)}"] : [],
                $"Data as of {model.GeneratedFor}; profile {model.Profile}; {Shown(cards.Length, Wording.InRankTable(model).Count())}.",
            ],
            Answer = [.. Answers(model, cards, all, options.Prices)],
            Columns = columns,
            Rows = [.. cards.Select(c => (c.Title, (IReadOnlyList<string>)[.. columns.Select(column => column.Cell(c))]))],
            Method = [.. HowMeasured(cards, columns)],
            EvidenceText = $"The raw records behind this table, {Wording.Count(records, "record", "records")}, with a script that recomputes its figures",
            EvidenceLink = options.Link,
        };
    }

    private static string Shown(int shown, int all) => shown == all
        ? Wording.Count(all, "card", "cards")
        : $"{Wording.Number(shown)} of {Wording.Count(all, "card", "cards")} tested are shown, ranks are among all of them";

    /// <summary>What the first page of the report answers, without what concerns its owner alone.</summary>
    private static IEnumerable<(string Label, string Text)> Answers(ReportModel model, ReportCard[] cards, bool all, bool prices)
    {
        yield return ("Which card", all
            ? string.Join(' ', TakePart.Lines(model, prices).Where(l => l.Length > 0))
            : "Which card to take is said of all cards tested only, not of a selection.");
        string[] avoid = [.. AvoidPart.NotAsClaimed(cards), .. AvoidPart.TooSlow(cards, model.Profile)];
        if (avoid.Length > 0)
        {
            yield return ("Rather not", string.Join(' ', avoid.Take(MostToAvoid)) + (avoid.Length > MostToAvoid ? $" {Wording.Number(avoid.Length - MostToAvoid)} more are in the table." : ""));
        }
    }

    private static IEnumerable<string> HowMeasured(ReportCard[] cards, PublicationColumn[] columns)
    {
        yield return "Cells of measured figures: the median of n repetitions, with its exact interval in [ ] or the range where n is too small for one; MB/s are 10^6 bytes per second, IOPS operations per second. "
            + "Ranks come from one model of all cards and boards and hold together at 95 %; cards that share ranks are not told apart.";
        yield return "A verdict states what was read and measured on one card, under these conditions; it guarantees nothing for that card and says nothing certain of another one of the same product.";
        (string Heading, string Series)[] measured = [.. columns.SelectMany(column => cards.Select(c => c.Metric(column.Key)?.Series).OfType<string>().Distinct().Select(series => (column.Heading, series)))];
        foreach (var alike in measured.GroupBy(m => m.Heading).GroupBy(metric => string.Join("; or as ", metric.Select(m => m.Series))))
        {
            yield return $"{Names.List(alike.Select(metric => metric.Key.Split(',')[0]))}: measured as {alike.Key}.";
        }
    }
}
