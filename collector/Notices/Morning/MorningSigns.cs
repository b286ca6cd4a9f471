using System.Security.Cryptography;
using System.Text;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Notices.Morning;

/// <summary>What must differ for a report to be news: a verdict, or something that needs a person and did not before.</summary>
/// <param name="Night">The night it is about, yyyy-MM-dd.</param>
/// <param name="Verdicts">A hash over every card's verdict.</param>
/// <param name="NeedsPerson">What needs a person, as keys that a count does not change.</param>
internal sealed record MorningSigns(string Night, string Verdicts, IReadOnlyList<string> NeedsPerson)
{
    /// <summary>Those of a report.</summary>
    internal static MorningSigns Of(ReportModel model, string night) =>
        Of(night, model.Cards.Select(c => (c.Title, c.Verdict)), model.NeedsPerson.Select(n => $"{n.Subject}: {n.Text}"));

    /// <summary>Those of a report's parts.</summary>
    internal static MorningSigns Of(string night, IEnumerable<(string Card, string Verdict)> verdicts, IEnumerable<string> needsPerson)
    {
        string all = string.Join('\n', verdicts.Select(v => $"{v.Card}\t{v.Verdict}").Order(StringComparer.Ordinal));
        return new MorningSigns(
            night,
            Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(all)).AsSpan(0, 16)),
            [.. needsPerson.Select(NoticeService.KeyOf).Distinct(StringComparer.Ordinal).Order(StringComparer.Ordinal)]);
    }

    /// <summary>True when it is news to somebody who knows an earlier report.</summary>
    internal bool IsNewsAfter(MorningSigns earlier) =>
        Verdicts != earlier.Verdicts || NeedsPerson.Except(earlier.NeedsPerson, StringComparer.Ordinal).Any();
}
