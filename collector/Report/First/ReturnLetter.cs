using System.Globalization;
using System.Text;
using Cardassay.Collector.Report.Model;
using Cardassay.Trust;

namespace Cardassay.Collector.Report.First;

/// <summary>
/// The letter to a shop about the cards it sold that are not as claimed: what was bought, what was claimed, what was read and measured, and
/// how anyone can repeat it. It states evidence and asks; it accuses nobody of intent. What is only doubtful is named as not claimed back.
/// </summary>
public static class ReturnLetter
{
    private const int TextColumns = 72;

    /// <summary>True when evidence against the card holds against the shop that sold it.</summary>
    internal static bool IsClaimedBack(ReportModel model, ReportCard card) => ReturnEvidence.Holding(model, card).Length > 0;

    /// <summary>Shops that sold a card with evidence that holds against them, by name.</summary>
    public static IEnumerable<string> Shops(ReportModel model) => model.Cards.Where(c => IsClaimedBack(model, c)).Select(c => c.Offer.Shop!)
        .Distinct(StringComparer.Ordinal).Order(StringComparer.Ordinal);

    /// <summary>All shops that a card of the report came from, by name.</summary>
    public static IEnumerable<string> KnownShops(ReportModel model) =>
        model.Cards.Select(c => c.Offer.Shop).OfType<string>().Distinct(StringComparer.Ordinal).Order(StringComparer.Ordinal);

    /// <summary>
    /// The letter as text of 72 columns or as Markdown, with a final newline; null when no evidence holds against the shop.
    /// </summary>
    /// <param name="model">The report.</param>
    /// <param name="shop">The shop as the claims name it.</param>
    /// <param name="markdown">True for Markdown.</param>
    public static string? Render(ReportModel model, string shop, bool markdown)
    {
        (ReportCard Card, ReportFinding[] Shown)[] back =
        [
            .. model.Cards.Where(c => c.Offer.Shop == shop).Select(c => (Card: c, Shown: ReturnEvidence.Holding(model, c)))
                .Where(c => c.Shown.Length > 0)
                .OrderBy(c => Telling.Weight(c.Shown[0])).ThenBy(c => c.Card.Title, StringComparer.Ordinal),
        ];
        if (back.Length == 0)
        {
            return null;
        }

        var text = new StringBuilder();
        if (model.Invented)
        {
            Paragraph(text, markdown, Wording.Invented + ": do not send this letter.");
        }

        Paragraph(text, markdown, $"To {shop}");
        Paragraph(text, markdown, Asking([.. back.Select(c => c.Card)]));
        if (back.Any(c => ReturnEvidence.AreTwins(c.Shown)))
        {
            Paragraph(text, markdown, "Of cards that bear one identity at least one is a copy; the registers do not say which.");
        }

        foreach ((ReportCard card, ReportFinding[] shown) in back)
        {
            Card(text, markdown, card, shown);
        }

        Section(text, markdown, "How anyone can repeat it", ReturnEvidence.HowToRepeat(back.SelectMany(c => c.Shown)));
        Section(text, markdown, "Not claimed back",
            model.Cards.Where(c => c.Offer.Shop == shop && back.All(b => b.Card != c)).Select(ReturnEvidence.NotClaimed)
                .Where(l => l.Length > 0));
        Paragraph(text, markdown, $"The records behind every figure can be had on request. Data as of {model.GeneratedFor}.");
        return text.ToString().TrimEnd('\n') + "\n";
    }

    private static string Asking(ReportCard[] cards)
    {
        bool one = cards.Length == 1;
        string price = cards.All(c => c.Offer.Price is not null) && cards.Select(c => c.Offer.Currency).Distinct().Count() == 1
            && cards[0].Offer.Currency is { } currency
            ? string.Create(CultureInfo.InvariantCulture,
                $"the price, {cards.Sum(c => c.Offer.Price):0.00##} {currency}{(one ? "" : " in all")}")
            : "the price";
        return $"By my records you sold me the {(one ? "card" : $"{Wording.Number(cards.Length)} cards")} below. "
            + "What was read or measured contradicts what was claimed; the evidence follows. It does not "
            + $"say how that came about. I ask you to take {(one ? "it" : "them")} back and to refund {price}.";
    }

    private static void Card(StringBuilder text, bool markdown, ReportCard card, ReportFinding[] shown)
    {
        Heading(text, markdown, Names.TagAndProduct(card));
        string bought = card.Offer.Bought is DateOnly day
            ? "on " + day.ToString("d MMMM yyyy", CultureInfo.InvariantCulture)
            : "on a day not recorded";
        string price = card.Offer.PriceText.Length > 0 ? "price " + card.Offer.PriceText : "price not recorded";
        string soldAs = card.Condition is "new" or "used" ? ", sold as " + card.Condition : "";
        Item(text, markdown, $"Bought {bought}, {price}{soldAs}.");
        if (ReturnEvidence.Claimed(card) is { Length: > 0 } claimed)
        {
            Item(text, markdown, $"Claimed: {claimed}.");
        }

        foreach (ReportFinding finding in shown)
        {
            Item(text, markdown, "Found: " + ReturnEvidence.Said(finding));
        }

        foreach (ReportFinding finding in card.Findings.Where(f => f.Severity == "doubt"))
        {
            Item(text, markdown, "Seen besides, no proof by itself: " + finding.Text);
        }

        Item(text, markdown, $"Read and measured in {Wording.Count(card.Runs.Count, "run", "runs")}"
            + (card.Runs.Count > 0 ? $" from {card.Runs[0].When} to {card.Runs[^1].When} UTC" : "")
            + $". The card calls itself {card.Identity ?? "nothing that could be read"}.");
        text.Append('\n');
    }

    private static void Section(StringBuilder text, bool markdown, string title, IEnumerable<string> sentences)
    {
        string[] said = [.. sentences];
        if (said.Length == 0)
        {
            return;
        }

        Heading(text, markdown, title);
        foreach (string sentence in said)
        {
            Item(text, markdown, sentence);
        }

        text.Append('\n');
    }

    private static void Heading(StringBuilder text, bool markdown, string title) =>
        text.Append(markdown ? "## " + MarkdownReport.Escape(title) : string.Join('\n', FirstPageText.Wrap(title, TextColumns, "")))
            .Append("\n\n");

    private static void Paragraph(StringBuilder text, bool markdown, string sentence) =>
        text.AppendJoin('\n', markdown ? [MarkdownReport.Escape(sentence)] : FirstPageText.Wrap(sentence, TextColumns, "")).Append("\n\n");

    private static void Item(StringBuilder text, bool markdown, string sentence) =>
        text.AppendJoin('\n', markdown ? ["- " + Commands(sentence)] : FirstPageText.Wrap("- " + sentence, TextColumns, "  ")).Append('\n');

    /// <summary>A command between back quotes stays code in Markdown.</summary>
    private static string Commands(string sentence)
    {
        string[] parts = sentence.Split('`');
        return parts.Length == 3 && parts[1].StartsWith("cardassay-", StringComparison.Ordinal)
            ? $"{MarkdownReport.Escape(parts[0])}`{PlainText.Clean(parts[1])}`{MarkdownReport.Escape(parts[2])}"
            : MarkdownReport.Escape(sentence);
    }
}
