namespace Cardassay.Identity.Rules;

/// <summary>
/// One identity under two tags: two cards share their registers, or one card got two stickers. In two laboratories a card has two stickers
/// as a rule, which says nothing against it.
/// </summary>
internal sealed class IdentityUnderTwoTagsRule : IFindingRule
{
    public string Id => "identity-under-two-tags";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        if (evidence.Registers.Identity is not { } identity)
        {
            yield break; // an identity made of a reader's name and size belongs to many readers
        }

        string[] tags = [.. evidence.Sightings.Select(s => s.Tag).OfType<string>().Distinct().Order(StringComparer.Ordinal)];
        bool inOneLaboratory = evidence.Sightings.Where(s => s.Tag is not null).GroupBy(s => s.Collector)
            .Any(g => g.Select(s => s.Tag).Distinct().Count() > 1);
        if (tags.Length > 1 && !inOneLaboratory)
        {
            yield return this.Note(
                $"The tags {RuleFinding.List(tags)} of several laboratories were seen with one identity: one card that was in both, "
                    + "or two that share their registers.",
                Sources.Cid + ": the serial number is unique",
                $"If it is one card, say so with `claim {tags[0]} --same-as {tags[1]}`; "
                    + "else put both into two boards of one collector at once.",
                new FindingValue("tags", string.Join(", ", tags)),
                new FindingValue("identity", identity.Text));
        }
        else if (tags.Length > 1)
        {
            yield return this.Doubt(
                $"The tags {RuleFinding.List(tags)} were seen with one identity; no maker gives it to two cards.",
                Sources.Cid + ": the serial number is unique",
                "Put the tagged cards into two boards at once.",
                new FindingValue("tags", string.Join(", ", tags)),
                new FindingValue("identity", identity.Text));
        }
    }
}
