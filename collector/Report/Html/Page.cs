using System.Globalization;
using System.Text;
using System.Text.Encodings.Web;
using System.Text.Unicode;
using Cardassay.Trust;

namespace Cardassay.Collector.Report.Html;

/// <summary>
/// A page being written. <see cref="Markup"/> takes constants of this program only; everything else goes through
/// <see cref="Text"/>, which escapes it for element content and for quoted attributes.
/// </summary>
internal sealed class Page
{
    private static readonly HtmlEncoder Encoder = HtmlEncoder.Create(UnicodeRanges.All);

    private readonly StringBuilder _html = new();
    private int _ids;

    /// <summary>Appends markup of this program.</summary>
    public Page Markup(string markup)
    {
        _html.Append(markup);
        return this;
    }

    /// <summary>Text from anywhere as element content or in a quoted attribute: clean and escaped.</summary>
    internal static string Encoded(string text) => Encoder.Encode(PlainText.CleanLines(text));

    /// <summary>Appends text from anywhere, escaped.</summary>
    public Page Text(string text)
    {
        _html.Append(Encoded(text));
        return this;
    }

    /// <summary>Appends an element that holds only text; <paramref name="open"/> is the tag with its attributes ("td class=num").</summary>
    public Page Element(string open, string text)
    {
        int end = open.IndexOf(' ', StringComparison.Ordinal);
        _html.Append('<').Append(open).Append('>').Append(Encoded(text)).Append("</").Append(end < 0 ? open : open[..end]).Append('>');
        return this;
    }

    /// <summary>Appends an element only where there is text.</summary>
    public Page ElementIf(string open, string text) => text.Length > 0 ? Element(open, text) : this;

    /// <summary>Appends a chart with its title, its text equivalent and its caption.</summary>
    /// <param name="title">What it is; also the visible caption.</param>
    /// <param name="description">What it shows, for those who do not see it.</param>
    /// <param name="elements">SVG elements.</param>
    /// <param name="width">Width in user units.</param>
    /// <param name="height">Height in user units.</param>
    /// <param name="legend">Markup of a legend; may be empty.</param>
    public Page Chart(string title, string description, string elements, double width, double height, string legend = "")
    {
        string id = "g" + (++_ids).ToString(CultureInfo.InvariantCulture);
        _html.Append(
            CultureInfo.InvariantCulture,
            $"<figure class=chart><figcaption>{Encoded(title)}</figcaption><svg role=img aria-labelledby=\"{id}t {id}d\" viewBox=\"0 0 "
                + $"{width} {height}\">");
        _html.Append(CultureInfo.InvariantCulture, $"<title id={id}t>{Encoded(title)}</title><desc id={id}d>{Encoded(description)}</desc>");
        _html.Append(elements).Append("</svg>").Append(legend).Append("</figure>\n");
        return this;
    }

    /// <summary>Opens a table inside a region that scrolls sideways and can be reached by keyboard.</summary>
    public Page OpenTable(string caption, string style = "")
    {
        string id = "c" + (++_ids).ToString(CultureInfo.InvariantCulture);
        _html.Append(CultureInfo.InvariantCulture, $"<div class=scroll role=region aria-labelledby={id} tabindex=0>"
            + $"<table{(style.Length > 0 ? $" class=\"{style}\"" : "")}><caption id={id}>{Encoded(caption)}</caption>");
        return this;
    }

    /// <summary>Closes what <see cref="OpenTable"/> opened.</summary>
    public Page CloseTable() => Markup("</table></div>\n");

    /// <summary>Appends a heading row.</summary>
    public Page HeadRow(params ReadOnlySpan<(string Name, bool IsNumber)> columns)
    {
        Markup("<thead><tr>");
        foreach ((string name, bool isNumber) in columns)
        {
            Element(isNumber ? "th scope=col class=num" : "th scope=col", name);
        }

        return Markup("</tr></thead>\n");
    }

    /// <inheritdoc/>
    public override string ToString() => _html.ToString();
}
