using System.Buffers.Binary;
using System.Xml.Linq;
using Cardassay.Collector.Exchange.Publishing;
using Cardassay.Collector.Exchange.Publishing.Picture;
using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Model;
using Cardassay.Collector.Tests.Report;
using SkiaSharp;

namespace Cardassay.Collector.Tests.Exchange;

public sealed class RankingPictureTests
{
    private static readonly ReportModel Tarrow = Priced(ReportModels.Tarrow(cards: 24));

    [Fact]
    public void Of_ManyCards_ShowsTheFirstWithRankLevelAndWholeVerdictAndCountsTheOthers()
    {
        Words[] words = [.. RankingPicture.Of(Tarrow, new PublicationOptions()).Shapes.OfType<Words>()];
        ReportCard[] ranked = [.. Tarrow.Cards.Where(c => c.Composite is not null)];
        Assert.True(ranked.Length > RankingPicture.RowsShown);
        foreach (ReportCard card in ranked.Take(RankingPicture.RowsShown))
        {
            Words name = Assert.Single(words, w => w.Text == $"{card.Product} · {card.Title}");
            string[] row = [.. words.Where(w => Math.Abs(w.Y - name.Y) < 1).Select(w => w.Text)];
            Assert.Contains(card.Rank!.Text, row);
            Assert.Contains(card.Composite!.Value.Text, row);
            Assert.Contains(card.Verdict + (card.Rank.Provisional ? "; provisional" : ""), row);
        }

        Assert.DoesNotContain(words, w => w.Text.EndsWith(ranked[RankingPicture.RowsShown].Title, StringComparison.Ordinal));
        Assert.Contains(words, w => w.Text.Contains($"The first {RankingPicture.RowsShown} of {ranked.Length} ranked cards", StringComparison.Ordinal));
        Assert.Contains(words, w => w.Text == Wording.Invented);
    }

    [Theory]
    [InlineData(1, 0)]
    [InlineData(24, 0)]
    [InlineData(24, 80)]
    public void Of_AnyModel_KeepsEveryTextInsideThePictureLargeEnoughAndOffTheOthers(int cards, int longer)
    {
        ReportModel model = Priced(ReportModels.Tarrow(cards: cards));
        model = model with { Profile = model.Profile + new string('W', longer), Cards = [.. model.Cards.Select(c => c with { Product = c.Product + new string('W', longer), Offer = c.Offer with { Currency = "XTS" + new string('W', longer) } })] };
        (Words Words, float Left, float Right)[] placed =
        [
            .. RankingPicture.Of(model, new PublicationOptions { Prices = true }).Shapes.OfType<Words>().Select(w =>
            {
                float width = PictureFont.WidthOf(w.Text, w.Size, w.IsBold);
                return (w, w.IsEnd ? w.X - width : w.X, w.IsEnd ? w.X : w.X + width);
            }),
        ];
        Assert.All(placed, p => Assert.True(p.Left >= 0 && p.Right <= RankingPicture.Width && p.Words.Y <= RankingPicture.Height - 8 && p.Words.Size >= 16, p.ToString()));
        foreach ((Words Words, float Left, float Right) one in placed)
        {
            Assert.DoesNotContain(placed, other => !ReferenceEquals(other.Words, one.Words) && Math.Abs(other.Words.Y - one.Words.Y) < 14 && other.Left < one.Right && one.Left < other.Right);
        }
    }

    [Fact]
    public void Of_WithoutConsent_HasNoPriceAndWithItTheTablesOwn()
    {
        string without = string.Join('\n', RankingPicture.Of(Tarrow, new PublicationOptions()).Shapes.OfType<Words>().Select(w => w.Text));
        Assert.DoesNotContain("XTS", without, StringComparison.Ordinal);
        Assert.DoesNotContain("price", without, StringComparison.OrdinalIgnoreCase);
        Assert.Contains(RankingPicture.Of(Tarrow, new PublicationOptions { Prices = true }).Shapes.OfType<Words>(), w => w.Text == "7.90 XTS");
    }

    [Fact]
    public void Of_NoRankedCard_IsRefused() =>
        Assert.Contains("--picture", Assert.Throws<ArgumentException>(() => RankingPicture.Of(Tarrow with { Cards = [] }, new PublicationOptions())).Message, StringComparison.Ordinal);

    [Fact]
    public void Write_Svg_IsXmlWithEveryShapeAndItsWords()
    {
        (IReadOnlyList<Shape> shapes, string text) = RankingPicture.Of(Tarrow with { Profile = "a <b> & \"c\"" }, new PublicationOptions());
        using var to = new MemoryStream();
        PictureFile.Write("ranking.svg", shapes, text, to);
        XElement svg = XDocument.Parse(System.Text.Encoding.UTF8.GetString(to.ToArray())).Root!;
        Assert.Equal(text, svg.Elements().First().Value);
        Assert.Equal(shapes.OfType<Words>().Select(w => w.Text), svg.Elements().Where(e => e.Name.LocalName == "text").Select(e => e.Value));
        Assert.Equal(shapes.Count, svg.Elements().Count() - 1);
        Assert.Equal(
            shapes.OfType<Words>().Select(w => (w.IsEnd ? "end" : "start", w.IsBold ? "bold" : "normal", w.Colour)),
            svg.Elements().Where(e => e.Name.LocalName == "text").Select(e => (e.Attribute("text-anchor")!.Value, e.Attribute("font-weight")!.Value, e.Attribute("fill")!.Value)));
    }

    [Fact]
    public void Write_Png_HasTheSizeAndTheBarsWhereTheShapesAre()
    {
        (IReadOnlyList<Shape> shapes, string text) = RankingPicture.Of(Tarrow, new PublicationOptions());
        using var to = new MemoryStream();
        PictureFile.Write("ranking.PNG", shapes, text, to);
        byte[] png = to.ToArray();

        // PNG (ISO/IEC 15948) 5.2 and 11.2.2: signature, then the header chunk with width and height.
        Assert.Equal([0x89, 0x50, 0x4E, 0x47, 0x0D, 0x0A, 0x1A, 0x0A], png[..8]);
        Assert.Equal((RankingPicture.Width, RankingPicture.Height), (BinaryPrimitives.ReadInt32BigEndian(png.AsSpan(16)), BinaryPrimitives.ReadInt32BigEndian(png.AsSpan(20))));
        using SKBitmap picture = SKBitmap.Decode(png);
        Box[] bars = [.. shapes.OfType<Box>().Where(b => b.Height == 10)];
        Assert.Equal(RankingPicture.RowsShown, bars.Length);
        Assert.All(bars, b => Assert.Equal(SKColor.Parse(b.Colour), picture.GetPixel((int)(b.X + (b.Width / 2)), (int)(b.Y + 5))));

        // Glyphs are there: without a font there would be none.
        Words title = shapes.OfType<Words>().First(w => w.Size == 30);
        Assert.Contains(Enumerable.Range((int)title.X, 200), x => Enumerable.Range((int)title.Y - 20, 20).Any(y => picture.GetPixel(x, y) == SKColor.Parse(title.Colour)));
    }

    [Theory]
    [InlineData("ranking.jpg")]
    [InlineData("ranking")]
    public void IsKnown_AnotherFormat_IsNot(string name) => Assert.False(PictureFile.IsKnown(name));

    private static ReportModel Priced(ReportModel model) => model with { Cards = [.. model.Cards.Select(c => c with { Offer = new Offer(7.90m, "XTS", null, null, null) })] };
}
