using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Charts;
using Cardassay.Collector.Report.First;
using Cardassay.Collector.Report.Model;
using Cardassay.Identity;
using Cardassay.Trust;

namespace Cardassay.Collector.Exchange.Publishing.Picture;

/// <summary>
/// The ranking as a picture for a video or a page, <see cref="Width"/> x <see cref="Height"/> pixels: the answer, a row per card with its level and interval,
/// and what they mean. It says nothing that the table does not.
/// </summary>
internal static class RankingPicture
{
    /// <summary>Pixels across.</summary>
    public const int Width = 1280;

    /// <summary>Pixels down.</summary>
    public const int Height = 720;

    /// <summary>Cards that have a row; the others are counted.</summary>
    public const int RowsShown = 14;

    private const string Paper = "#fdfdfa", Ink = "#16191c", Soft = "#4d555c", Rule = "#d8d5c8", Level = "#1d5573", Interval = "#9dc3d6", Bad = "#9a2a1c";
    private const float Margin = 44, NameLeft = 128, BarLeft = 470, BarRight = 716, ValueRight = 772, PriceRight = 884, VerdictLeft = 902, Small = 16, Row = 18;

    /// <summary>The picture, and what it shows in words.</summary>
    /// <param name="model">The report of what is published.</param>
    /// <param name="options">Which cards, and whether prices may be shown.</param>
    /// <exception cref="ArgumentException">No card to be shown has a rank; the message says so.</exception>
    public static (IReadOnlyList<Shape> Shapes, string Text) Of(ReportModel model, PublicationOptions options)
    {
        bool all = options.Cards.Count == 0;
        ReportCard[] ranked = [.. model.Cards.Where(c => c.Composite is not null && (all || options.Cards.Contains(c.Title)))];
        if (ranked.Length == 0)
        {
            throw new ArgumentException("--picture: none of the cards to be shown has a rank, so there is no ranking to draw.");
        }

        List<Shape> shapes = [new Box(0, 0, Width, Height, Paper)];
        float y = 56;
        if (model.Invented)
        {
            shapes.Add(new Words(Width - Margin, y - 4, Row, Wording.Invented, Bad, IsBold: true, IsEnd: true));
        }

        shapes.Add(new Words(Margin, y, 30, PictureFont.Fit(PlainText.Clean($"SD cards measured: {model.Profile}"), 30, isBold: true, 800), Ink, IsBold: true));
        IEnumerable<string> answer = all ? TakePart.Lines(model, options.Prices).Where(l => l.Length > 0) : ["A selection; ranks are among all cards tested."];
        foreach (string line in PictureFont.Lines(answer.Select(PlainText.Clean), Row, Width - 2 * Margin, 2))
        {
            y += 28;
            shapes.Add(new Words(Margin, y, Row, line, Ink));
        }

        Rows(shapes, ranked, options.Prices, y + 22);
        Foot(shapes, model, ranked.Length);
        return (shapes, RanksChart.Text([.. ranked.Take(RowsShown)]));
    }

    private static void Rows(List<Shape> shapes, ReportCard[] ranked, bool prices, float top)
    {
        ReportCard[] shown = [.. ranked.Take(RowsShown)];
        float step = Math.Min(38, (Height - 118 - top) / shown.Length), perUnit = (BarRight - BarLeft) / (float)shown.Max(c => Math.Max(c.Composite!.High.Raw, c.Composite.Value.Raw));
        for (int i = 0; i < shown.Length; i++)
        {
            ReportCard card = shown[i];
            float middle = top + (step * i) + (step / 2), text = middle + 6, at = BarLeft + (perUnit * (float)card.Composite!.Value.Raw);
            if (i > 0 && Wording.GroupKey(card) != Wording.GroupKey(shown[i - 1]))
            {
                shapes.Add(new Box(Margin, middle - (step / 2), Width - 2 * Margin, 1.5f, Rule));
            }

            bool isFalse = card.VerdictKind == VerdictKind.NotAsClaimed;
            shapes.Add(new Words(Margin, text, Row, card.Rank!.Text, Ink, IsBold: true));
            string name = card.Product.Length > 0 ? $"{card.Product} · {card.Title}" : card.Title;
            shapes.Add(new Words(NameLeft, text, Row, PictureFont.Fit(PlainText.Clean(name), Row, isBold: false, BarLeft - NameLeft - 16), Ink));
            shapes.Add(new Box(BarLeft, middle - 5, at - BarLeft, 10, Level));
            if (card.Composite.IsInterval)
            {
                float low = BarLeft + (perUnit * (float)card.Composite.Low.Raw), high = BarLeft + (perUnit * (float)card.Composite.High.Raw);
                shapes.Add(new Box(low, middle - 9, Math.Max(2, high - low), 18, Interval));
            }

            shapes.Add(new Dot(at, middle, 4, Ink));
            shapes.Add(new Words(ValueRight, text, Row, card.Composite.Value.Text, Ink, IsBold: true, IsEnd: true));
            if (prices && card.Offer.PriceText.Length > 0)
            {
                shapes.Add(new Words(PriceRight, text, Small, PictureFont.Fit(PlainText.Clean(card.Offer.PriceText), Small, isBold: false, PriceRight - ValueRight - 8), Soft, IsEnd: true));
            }

            string verdict = card.Rank.Provisional ? $"{card.Verdict}; provisional" : card.Verdict;
            shapes.Add(new Words(VerdictLeft, text, Small, PictureFont.Fit(verdict, Small, isFalse, Width - Margin - VerdictLeft), isFalse ? Bad : Soft, isFalse));
        }
    }

    private static void Foot(List<Shape> shapes, ReportModel model, int ranked)
    {
        string more = ranked > RowsShown ? $"The first {Wording.Number(RowsShown)} of {Wording.Number(ranked)} ranked cards. " : "";
        string[] lines =
        [
            $"Bar: performance, 1 = the profile's reference; light: its own 95 % interval. Lines part groups. Cards that share ranks are not told apart.",
            $"{more}A verdict holds for the card measured, not for others of its product. Data as of {model.GeneratedFor}.",
        ];
        foreach ((int i, string line) in lines.Index())
        {
            shapes.Add(new Words(Margin, Height - 66 + (26 * i), Small, PictureFont.Fit(PlainText.Clean(line), Small, isBold: false, Width - 2 * Margin), Soft));
        }
    }
}
