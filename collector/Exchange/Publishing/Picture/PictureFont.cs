using SkiaSharp;

namespace Cardassay.Collector.Exchange.Publishing.Picture;

/// <summary>The font of pictures. It travels with the program: a server without a screen has none.</summary>
internal static class PictureFont
{
    /// <summary>What an SVG asks for; a viewer without it takes any without serifs.</summary>
    public const string Family = "DejaVu Sans, Verdana, sans-serif";

    private static readonly SKTypeface Regular = Load("DejaVuSans.ttf"), Bold = Load("DejaVuSans-Bold.ttf");

    /// <summary>The font in a size, to be disposed of.</summary>
    public static SKFont Of(float size, bool isBold) => new(isBold ? Bold : Regular, size) { Subpixel = true };

    /// <summary>Width of a text in pixels.</summary>
    public static float WidthOf(string text, float size, bool isBold)
    {
        using SKFont font = Of(size, isBold);
        return font.MeasureText(text);
    }

    /// <summary>The text, or as much of its beginning as fits, with an ellipsis.</summary>
    public static string Fit(string text, float size, bool isBold, float width)
    {
        if (WidthOf(text, size, isBold) <= width)
        {
            return text;
        }

        string shorter = text;
        while (shorter.Length > 0 && WidthOf(shorter + "…", size, isBold) > width)
        {
            shorter = shorter[..^(shorter.Length > 1 && char.IsLowSurrogate(shorter[^1]) ? 2 : 1)];
        }

        return shorter.TrimEnd() + "…";
    }

    /// <summary>Whole sentences as lines of at most that width: as many sentences, from the first on, as fit into so many lines.</summary>
    public static IReadOnlyList<string> Lines(IEnumerable<string> sentences, float size, float width, int most)
    {
        List<string> lines = [];
        string said = "";
        foreach (string sentence in sentences)
        {
            said = said.Length == 0 ? sentence : $"{said} {sentence}";
            List<string> longer = Wrap(said, size, width);
            if (longer.Count > most)
            {
                break;
            }

            lines = longer;
        }

        return lines;
    }

    private static List<string> Wrap(string text, float size, float width)
    {
        List<string> lines = [];
        string line = "";
        foreach (string word in text.Split(' ', StringSplitOptions.RemoveEmptyEntries))
        {
            string longer = line.Length == 0 ? word : $"{line} {word}";
            if (line.Length > 0 && WidthOf(longer, size, isBold: false) > width)
            {
                lines.Add(line);
                longer = word;
            }

            line = longer;
        }

        return [.. lines, line];
    }

    private static SKTypeface Load(string name)
    {
        using Stream font = typeof(PictureFont).Assembly.GetManifestResourceStream(name) ?? throw new InvalidOperationException($"The program lacks its font {name}.");
        using SKData data = SKData.Create(font);
        return SKTypeface.FromData(data) ?? throw new InvalidOperationException($"The font {name} cannot be read.");
    }
}
