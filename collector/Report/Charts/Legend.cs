using System.Text;
using Cardassay.Collector.Report.Html;

namespace Cardassay.Collector.Report.Charts;

/// <summary>A chart's legend: small pictures with words. Pictures are markup of this program, words may come from anywhere.</summary>
internal sealed class Legend
{

    private readonly StringBuilder _html = new("<p class=legend>");

    /// <summary>An entry with a mark, drawn in 12 by 12 units.</summary>
    public Legend Mark(string svg, string words) => Entry("0 0 12 12", svg, words);

    /// <summary>An entry with a line, drawn in 24 by 8 units.</summary>
    public Legend Line(string svg, string words) => Entry("0 0 24 8", svg, words);

    /// <summary>An entry only where it applies.</summary>
    public Legend MarkIf(bool applies, string svg, string words) => applies ? Mark(svg, words) : this;

    /// <inheritdoc/>
    public override string ToString() => _html + "</p>";

    private Legend Entry(string box, string svg, string words)
    {
        _html.Append("<span><svg viewBox=\"").Append(box).Append("\" aria-hidden=true>").Append(svg).Append("</svg>")
            .Append(Page.Encoded(words)).Append("</span>");
        return this;
    }
}
