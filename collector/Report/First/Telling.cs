using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Report.First;

/// <summary>
/// Which finding says most about a card: first what destroys data, then what shows another product, then what it cannot do, last what is
/// only printed on it. Our own order.
/// </summary>
internal static class Telling
{
    private static readonly string[] Order =
    [
        "capacity-proof", "identity-in-two-places", "identity-under-two-tags", "capacity-against-disk", "capacity-against-label",
        "reference-cards",
        "behaves-unlike-its-product", "measured-marks", "used-against-new", "long-stall", "marks-against-claim",
    ];

    /// <summary>Smaller is more telling; severity counts before the kind.</summary>
    public static int Weight(ReportFinding finding)
    {
        int severity = finding.Severity switch { "contradiction" => 0, "doubt" => 1, _ => 2 };
        int kind = Array.IndexOf(Order, finding.Id);
        return (severity * 100) + (kind < 0 ? Order.Length : kind);
    }
}
