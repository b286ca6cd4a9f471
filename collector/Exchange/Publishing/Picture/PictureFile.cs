using System.Globalization;
using System.Xml;
using Cardassay.Trust;
using SkiaSharp;

namespace Cardassay.Collector.Exchange.Publishing.Picture;

/// <summary>Shapes as a file: SVG or PNG, by the name's end.</summary>
internal static class PictureFile
{
    /// <summary>True for a name that ends as one of the two.</summary>
    public static bool IsKnown(string name) => IsSvg(name) || name.EndsWith(".png", StringComparison.OrdinalIgnoreCase);

    /// <summary>Writes the picture.</summary>
    /// <param name="name">Name of the file, for its end.</param>
    /// <param name="shapes">What to draw, the lowest first.</param>
    /// <param name="description">The picture in words.</param>
    /// <param name="to">Where to.</param>
    public static void Write(string name, IReadOnlyList<Shape> shapes, string description, Stream to)
    {
        if (IsSvg(name))
        {
            Svg(shapes, description, to);
        }
        else
        {
            Png(shapes, to);
        }
    }

    private static bool IsSvg(string name) => name.EndsWith(".svg", StringComparison.OrdinalIgnoreCase);

    private static void Svg(IReadOnlyList<Shape> shapes, string description, Stream to)
    {
        using var xml = XmlWriter.Create(to, new XmlWriterSettings { Indent = true, Encoding = new System.Text.UTF8Encoding(false) });
        xml.WriteStartElement("svg", "http://www.w3.org/2000/svg");
        Attributes(xml, ("viewBox", $"0 0 {RankingPicture.Width} {RankingPicture.Height}"), ("width", N(RankingPicture.Width)), ("height", N(RankingPicture.Height)), ("role", "img"));
        xml.WriteElementString("title", PlainText.Clean(description));
        foreach (Shape shape in shapes)
        {
            xml.WriteStartElement(shape switch { Words => "text", Box => "rect", _ => "circle" });
            Attributes(xml, shape switch
            {
                Words w => [("x", N(w.X)), ("y", N(w.Y)), ("font-family", PictureFont.Family), ("font-size", N(w.Size)), ("font-weight", w.IsBold ? "bold" : "normal"), ("text-anchor", w.IsEnd ? "end" : "start")],
                Box b => [("x", N(b.X)), ("y", N(b.Y)), ("width", N(b.Width)), ("height", N(b.Height))],
                Dot d => [("cx", N(d.X)), ("cy", N(d.Y)), ("r", N(d.Radius))],
                _ => throw new InvalidOperationException($"Nothing draws {shape.GetType().Name}."),
            });
            Attributes(xml, ("fill", shape.Colour));
            if (shape is Words words)
            {
                xml.WriteString(words.Text);
            }

            xml.WriteEndElement();
        }

        xml.WriteEndElement();
    }

    private static void Png(IReadOnlyList<Shape> shapes, Stream to)
    {
        using var bitmap = new SKBitmap(RankingPicture.Width, RankingPicture.Height);
        using (var canvas = new SKCanvas(bitmap))
        {
            foreach (Shape shape in shapes)
            {
                using var paint = new SKPaint { Color = SKColor.Parse(shape.Colour), IsAntialias = true };
                switch (shape)
                {
                    case Words w:
                        using (SKFont font = PictureFont.Of(w.Size, w.IsBold))
                        {
                            canvas.DrawText(w.Text, w.X, w.Y, w.IsEnd ? SKTextAlign.Right : SKTextAlign.Left, font, paint);
                        }

                        break;
                    case Box b:
                        canvas.DrawRect(b.X, b.Y, b.Width, b.Height, paint);
                        break;
                    case Dot d:
                        canvas.DrawCircle(d.X, d.Y, d.Radius, paint);
                        break;
                    default:
                        throw new InvalidOperationException($"Nothing draws {shape.GetType().Name}.");
                }
            }
        }

        using SKData png = bitmap.Encode(SKEncodedImageFormat.Png, 100);
        png.SaveTo(to);
    }

    private static void Attributes(XmlWriter xml, params (string Name, string Value)[] attributes)
    {
        foreach ((string name, string value) in attributes)
        {
            xml.WriteAttributeString(name, value);
        }
    }

    private static string N(float value) => Math.Round(value, 1).ToString("0.#", CultureInfo.InvariantCulture);
}
