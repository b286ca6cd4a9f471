using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>
/// One identity in two slots or boards at the same time: there are two cards, and at least one is a copy. Boards of two collectors share no
/// clock, so that "at the same time" is in doubt there.
/// </summary>
internal sealed class IdentityInTwoPlacesRule : IFindingRule
{
    public string Id => "identity-in-two-places";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        if (evidence.Registers.Identity is null)
        {
            yield break; // an identity made of a reader's name and size belongs to many readers
        }

        Dictionary<(string Board, string? Slot), (DateTimeOffset Until, IdentitySighting Sighting)> latest = [];
        (IdentitySighting First, IdentitySighting Second)? byTwoClocks = null;
        foreach (IdentitySighting sighting in evidence.Sightings.Where(s => s.From is not null && s.Until is not null).OrderBy(s => s.From))
        {
            (string Board, string? Slot) place = (sighting.Board, sighting.Slot);
            foreach (((string Board, string? Slot) other, (DateTimeOffset until, IdentitySighting earlier)) in latest)
            {
                if (AreApart(other, place) && until > sighting.From && earlier.Collector != sighting.Collector)
                {
                    byTwoClocks ??= (earlier, sighting);
                }
                else if (AreApart(other, place) && until > sighting.From)
                {
                    yield return this.Contradiction(
                        "The identity was in two places at once: there are two cards with the same registers, and at least one is a copy.",
                        Sources.Cid + ": the serial number is unique",
                        null,
                        new FindingValue("first place", Describe(earlier)),
                        new FindingValue("second place", Describe(sighting)));
                    yield break;
                }
            }

            if (!latest.TryGetValue(place, out (DateTimeOffset Until, IdentitySighting Sighting) known) || known.Until < sighting.Until)
            {
                latest[place] = (sighting.Until!.Value, sighting);
            }
        }

        if (byTwoClocks is (var first, var second))
        {
            yield return this.Doubt(
                "Two collectors saw the identity at the same time, each by its own clock: where both clocks are right, "
                    + "there are two cards with the same registers.",
                Sources.Cid + ": the serial number is unique",
                "Compare the clocks of the two collectors, or put the cards into two boards of one collector at once.",
                new FindingValue("first place", Describe(first)),
                new FindingValue("second place", Describe(second)));
        }
    }

    /// <summary>On one board an unknown slot may be any of them.</summary>
    private static bool AreApart((string Board, string? Slot) a, (string Board, string? Slot) b) =>
        a.Board != b.Board || (a.Slot is not null && b.Slot is not null && a.Slot != b.Slot);

    private static string Describe(IdentitySighting s) =>
        Text($"{s.Board} {s.Slot ?? "(slot unknown)"}, tag {s.Tag ?? "none"}, {s.From:yyyy-MM-dd'T'HH:mm:ssK} to ")
            + Text($"{s.Until:yyyy-MM-dd'T'HH:mm:ssK}");
}
