using System.Collections;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Report.Building;

/// <summary>
/// All cards of a report whole, each made when it is asked for: of a large laboratory they do not fit into memory together.
/// </summary>
internal sealed class WholeCards(ReportSource source, CardResult[] order) : IReadOnlyList<ReportCard>
{
    /// <inheritdoc/>
    public int Count => order.Length;

    /// <inheritdoc/>
    public ReportCard this[int index] => CardBuilder.Whole(source, order[index]);

    /// <inheritdoc/>
    public IEnumerator<ReportCard> GetEnumerator() => order.Select(card => CardBuilder.Whole(source, card)).GetEnumerator();

    IEnumerator IEnumerable.GetEnumerator() => GetEnumerator();
}
