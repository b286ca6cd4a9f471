using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Ranking;
using Cardassay.Collector.Report;
using Cardassay.Identity;

namespace Cardassay.Collector.Exchange.Tables;

/// <summary>The table of cards: what is claimed of each, its verdict and its rank.</summary>
internal static class CardTable
{
    private static readonly ColumnsOf<Row> Columns = new ColumnsOf<Row>()
        .Text("tag", "Sticker of the card; of another collector TAG@COLLECTOR.", r => r.Card.Tag)
        .Text("identity", "What it said it is, last.", r => r.Card.Identities is [.., var last] ? last.Text : null)
        .Flag("identity_from_registers", "Whether that was read from its registers.", r => r.Card.Identities is [.., { FromRegisters: true }])
        .Text("maker", "Maker as claimed.", r => r.Claim?.Maker)
        .Text("product", "Product as claimed.", r => r.Claim?.Product)
        .Number("label_gigabytes", "GB", "Capacity as claimed, 10^9 bytes.", r => (double?)r.Claim?.LabelGigabytes)
        .Text("marks", "Marks as claimed, with blanks between; \"none\" for a label that bears none, nothing where nobody looked.", r => r.Claim?.Marks is { } marks ? marks.Count == 0 ? "none" : string.Join(' ', marks) : null)
        .Text("condition", "\"new\" or \"used\", as claimed.", r => Words.Condition(r.Claim))
        .Number("price", "see currency", "Price paid.", r => (double?)r.Claim?.Price)
        .Text("currency", "ISO 4217.", r => r.Claim?.Currency)
        .Day("price_date", "Day of the price.", r => r.Claim?.PriceDate)
        .Day("purchased", "Day of purchase.", r => r.Claim?.Purchased)
        .Text("bought_at", "Shop.", r => r.Claim?.BoughtAt)
        .Flag("reference", "Whether somebody vouches for it.", r => r.Claim?.IsReference == true)
        .Text("claimed_at", "Collector the claim was told; nothing for this one.", r => r.Card.ClaimOrigin.Length > 0 ? r.Card.ClaimOrigin : null)
        .Text("verdict", "What registers, proof and marks say against the claim. No guarantee.", r => r.Standing.Verdict.Words)
        .Text("verdict_basis", "What \"sparsely probed\" rests on.", r => r.Standing.Verdict.Basis)
        .Number("performance", "1 = reference", "Weighted performance under the profile system-disk; nothing where it is not ranked.", r => r.Ranked?.Composite)
        .Number("performance_low", "1 = reference", "Lower end of its own 95 % interval.", r => r.Ranked is { HasInterval: true } ranked ? ranked.Low : null)
        .Number("performance_high", "1 = reference", "Upper end.", r => r.Ranked is { HasInterval: true } ranked ? ranked.High : null)
        .Whole("rank_best", "", "Best rank among all ranked cards, at a joint level of 95 %.", r => r.Ranked?.Best)
        .Whole("rank_worst", "", "Worst rank.", r => r.Ranked?.Worst)
        .Flag("rank_provisional", "True where it has too few runs or one night only.", r => r.Ranked?.IsProvisional == true)
        .Whole("runs", "", "Runs.", r => r.Card.Runs.Count)
        .Day("first_night", "First night it was measured in.", r => r.Card.Runs.Count == 0 ? null : r.Card.Runs.Min(u => u.Night))
        .Day("last_night", "Last one.", r => r.Card.Runs.Count == 0 ? null : r.Card.Runs.Max(u => u.Night))
        .Whole("written_bytes", "B", "Bytes its runs wrote to it, as far as known.", r => r.Card.WrittenBytes)
        .Flag("invented", "True when any of its data is made up.", r => r.Card.Invented);

    internal static ExportTable Of(MasterData data, AnalysisResult analysis)
    {
        IReadOnlyDictionary<string, CardStanding> standings = CardStandings.Of(data, analysis);
        Dictionary<string, RankedCard> ranked = (analysis.Rankings.Count == 0 ? [] : analysis.Rankings[0].Cards).ToDictionary(c => c.Name, StringComparer.Ordinal);
        return new ExportTable<Row>(
            "cards", "A card.", Columns.All, [.. analysis.Cards.Select(c => new Row(c, standings[c.Name], ranked.GetValueOrDefault(c.Name)))]);
    }

    private sealed record Row(CardResult Card, CardStanding Standing, RankedCard? Ranked)
    {
        internal Claim? Claim => Card.Claim;
    }
}
