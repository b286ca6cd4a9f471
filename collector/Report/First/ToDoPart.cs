using Cardassay.Collector.Report.Model;
using Cardassay.Identity;

namespace Cardassay.Collector.Report.First;

/// <summary>What a person should do, most harm first, one action a line.</summary>
internal static class ToDoPart
{
    public static IEnumerable<string> Lines(ReportModel model) =>
        Steps(model).Distinct(StringComparer.Ordinal).Select((step, i) => $"{Wording.Number(i + 1)}. {step}");

    private static IEnumerable<string> Steps(ReportModel model)
    {
        ReportCard[] back = [.. SendBackPart.ToReturn(model.Cards)];
        string[] losing =
        [
            .. back.Where(c => c.Findings.Any(f => f is { Id: "capacity-proof", Severity: "contradiction" })).Select(c => c.Title),
        ];
        if (losing.Length > 0)
        {
            yield return $"Write nothing more to {string.Join(", ", losing)}; copy what is on "
                + $"{(losing.Length == 1 ? "it" : "them")} elsewhere.";
        }

        foreach (NeedsPerson loss in model.NeedsPerson.Where(n => n.Subject == NeedsPerson.Laboratory))
        {
            yield return $"{loss.Text} {loss.Do}".TrimEnd();
        }

        string[] unknown = [.. back.Where(c => c.Offer.Shop is null).Select(c => c.Title)];
        if (unknown.Length > 0)
        {
            yield return $"Record where {Names.List(unknown)} came from (`claim TAG --bought-at SHOP`).";
        }

        foreach (ReportCard card in back)
        {
            // One contradiction that stands by itself is enough; where each depends on what was typed in, that is looked at first.
            ReportFinding[] shown = ReturnEvidence.Holding(model, card);
            if (shown.Length > 0 && shown.All(f => f.Settles.Length > 0))
            {
                yield return $"Before you write about {card.Title}: {char.ToLowerInvariant(shown[0].Settles[0])}{shown[0].Settles[1..]}";
            }
        }

        string[] letters = [.. back.Where(c => ReturnLetter.IsClaimedBack(model, c)).GroupBy(c => c.Offer.Shop!)
            .Select(shop => $"{shop.Key} ({string.Join(", ", shop.Select(c => c.Title))})")];
        if (letters.Length > 0)
        {
            yield return $"Write to {string.Join("; ", letters)}: `report --return SHOP`.";
        }

        foreach (NeedsPerson open in model.NeedsPerson.Where(
            n => n.Subject != NeedsPerson.Laboratory && n.Do.Length > 0 && back.All(c => c.Title != n.Subject)))
        {
            yield return $"{open.Subject}: {open.Do}";
        }
    }
}
