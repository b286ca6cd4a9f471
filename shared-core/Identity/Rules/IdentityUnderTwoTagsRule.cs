namespace Cardassay.Identity.Rules;

/// <summary>One identity under two tags: two cards share their registers, or one card got two stickers.</summary>
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
        if (tags.Length > 1)
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
