using Cardassay.Collector.Report.Building;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Report.First;

/// <summary>Whether what is sold under one name changed between purchases, as far as registers show.</summary>
internal static class ProductsPart
{
    public static IEnumerable<string> Lines(ReportModel model)
    {
        IGrouping<string, ReportCard>[] several = [.. ProductTrend.Several(model.Cards.Where(c => c.Revision is not null))];
        if (several.Length == 0)
        {
            yield return "Whether a product changed is not known: of none are there two specimens with readable registers.";
            yield break;
        }

        IGrouping<string, ReportCard>[] changed = [.. several.Where(g => ProductTrend.Registers(g).Length > 1)];
        foreach (IGrouping<string, ReportCard> product in changed)
        {
            yield return $"{product.Key} is not one thing: "
                + string.Join("; ",
                    product.GroupBy(c => c.Revision!.Registers)
                        .Select(r => $"{string.Join(", ", r.Select(c => c.Title + Made(c)))} {r.Key}")) + ".";
        }

        int same = several.Length - changed.Length;
        if (same > 0)
        {
            yield return $"No revision change in the registers of {Wording.Count(same, "product", "products")} with several cards.";
        }
    }

    private static string Made(ReportCard card) => card.Revision!.Made.Length > 0 ? $" (made {card.Revision.Made})" : "";
}
