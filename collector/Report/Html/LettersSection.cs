using Cardassay.Collector.Report.First;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Report.Html;

/// <summary>The letters to the shops that sold a card which is not as claimed, folded away, to copy from.</summary>
internal static class LettersSection
{
    /// <summary>False without a letter, and in a report so large that its cards are described in short.</summary>
    public static bool IsWritten(ReportModel model) => model.Cards.Count <= ReportBuilder.WholeUpTo && ReturnLetter.Shops(model).Any();

    public static void Write(Page page, ReportModel model)
    {
        if (!IsWritten(model))
        {
            return;
        }

        page.Markup("<section aria-labelledby=letters><h2 id=letters>Letters to the shops</h2><p class=lead>About the cards they sold that "
            + "are not as claimed. Read a letter before you send it: it says what was recorded here, and the shop, price and marks are as "
            + "they were typed in.</p>");
        foreach (string shop in ReturnLetter.Shops(model))
        {
            page.Markup("<details class=letter>").Element("summary", shop)
                .Element("pre", ReturnLetter.Render(model, shop, markdown: false)!).Markup("</details>\n");
        }

        page.Markup("</section>\n");
    }
}
