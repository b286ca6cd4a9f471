using System.Globalization;
using System.Text;
using Cardassay.Identity;

namespace Cardassay.Demo;

/// <summary>What labels, shops and the network say of the cards.</summary>
internal static class Claims
{
    private const string Header = "tag,maker,product,labelGigabytes,marks,statedReadMBps,statedWriteMBps,price,currency,priceDate,purchased,boughtAt,condition,reference,invented";

    /// <summary>One claim a card, in the order of the tags.</summary>
    public static IReadOnlyList<Claim> All() => [.. Tarrow.Cards.Select(Of)];

    /// <summary>The claims as the collector's `claim --csv` reads them. No field holds a comma or a quote.</summary>
    public static string Csv()
    {
        var text = new StringBuilder(Header).Append('\n');
        foreach (Claim claim in All())
        {
            text.Append(CultureInfo.InvariantCulture,
                $"{claim.Tag},{claim.Maker},{claim.Product},{claim.LabelGigabytes},{string.Join(' ', claim.Marks ?? [])},{claim.StatedReadMegabytesPerSecond},{claim.StatedWriteMegabytesPerSecond},")
                .Append(CultureInfo.InvariantCulture,
                $"{claim.Price},{claim.Currency},{claim.PriceDate:yyyy-MM-dd},{claim.Purchased:yyyy-MM-dd},{claim.BoughtAt},")
                .Append(CultureInfo.InvariantCulture,
                $"{(claim.Condition == CardCondition.Used ? "used" : "new")},{(claim.IsReference == true ? "true" : "false")},true\n");
        }

        return text.ToString();
    }

    private static Claim Of(Card card) => new()
    {
        Tag = card.Tag,
        Maker = card.Product.Maker,
        Product = card.Product.Name,
        LabelGigabytes = card.Product.LabelGigabytes,
        Marks = card.Product.Marks,
        StatedReadMegabytesPerSecond = card.Product.StatedReadMegabytes,
        StatedWriteMegabytesPerSecond = card.Product.StatedWriteMegabytes,
        Price = card.Price ?? card.Product.Price,
        Currency = Tarrow.Currency,
        PriceDate = card.Bought,
        Purchased = card.Bought,
        BoughtAt = card.Fault switch
        {
            Fault.Worn => "jumble sale at Oldmoor",
            Fault.Overstated or Fault.Relabelled => "stall on the ferry",
            _ => "harbour store at Skerrin Point",
        },
        Condition = card.Fault == Fault.Worn ? CardCondition.Used : CardCondition.New,
        IsReference = card.IsReference,
        Invented = true,
    };
}
