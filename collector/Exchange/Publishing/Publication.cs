using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Exchange.Publishing;

/// <summary>A table for a post or a video description, with what a reader needs to judge it.</summary>
public sealed record Publication
{
    /// <summary>Heading.</summary>
    public required string Title { get; init; }

    /// <summary>Sentences before the table: demonstration data, date, ranking.</summary>
    public required IReadOnlyList<string> Lead { get; init; }

    /// <summary>The columns.</summary>
    public required IReadOnlyList<PublicationColumn> Columns { get; init; }

    /// <summary>The rows: the card and one cell for each column.</summary>
    public required IReadOnlyList<(string Card, IReadOnlyList<string> Cells)> Rows { get; init; }

    /// <summary>How the figures came about and what they do not say.</summary>
    public required IReadOnlyList<string> Method { get; init; }

    /// <summary>Chooses rows and columns of a report.</summary>
    /// <exception cref="ArgumentException">No such column or card; the message says what to do.</exception>
    public static Publication Of(ReportModel model, PublicationOptions options)
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

        ReportCard[] cards = [.. model.Cards.Where(c => options.Cards.Count == 0 || options.Cards.Contains(c.Title))];
        return new Publication
        {
            Title = "SD cards measured",
            Lead =
            [
                .. model.Invented ? (string[])[$"{Wording.Invented}. {Wording.InventedMeaning(model)}"] : [],
                $"Data as of {model.GeneratedFor}; profile {model.Profile}; {Shown(cards.Length, model.Cards.Count)}.",
            ],
            Columns = columns,
            Rows = [.. cards.Select(c => (c.Title, (IReadOnlyList<string>)[.. columns.Select(column => column.Cell(c))]))],
            Method =
            [
                "Cells of measured figures: median, then [exact interval of the median] or the range where n is too small for one, then n, the number of repetitions. MB/s are 10^6 bytes per second; IOPS are operations per second.",
                .. Series(cards, columns),
                .. model.Method,
                .. model.Cautions,
            ],
        };
    }

    private static string Shown(int shown, int all) => shown == all
        ? Wording.Count(all, "card", "cards")
        : $"{Wording.Number(shown)} of {Wording.Count(all, "card", "cards")} tested are shown, ranks are among all of them";

    /// <summary>Under which conditions the figures shown were measured: one line per metric, since cards share most of it.</summary>
    private static IEnumerable<string> Series(ReportCard[] cards, PublicationColumn[] columns)
    {
        foreach (PublicationColumn column in columns)
        {
            string[] series = [.. cards.Select(c => c.Metric(column.Key)?.Series).OfType<string>().Distinct()];
            if (series.Length > 0)
            {
                yield return $"{column.Heading}: measured as {string.Join("; or as ", series)}.";
            }
        }
    }
}
