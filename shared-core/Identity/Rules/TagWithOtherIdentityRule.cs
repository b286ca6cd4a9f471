namespace Cardassay.Identity.Rules;

/// <summary>
/// A tag under which another identity was seen before. Identities of devices without registers are not
/// compared: they follow the reader.
/// </summary>
internal sealed class TagWithOtherIdentityRule : IFindingRule
{
    public string Id => "tag-with-other-identity";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        if (evidence.Registers.Identity is not { } now)
        {
            yield break;
        }

        string[] before =
        [
            .. evidence.EarlierIdentities.Where(e => e.FromRegisters && e != now).Select(e => e.Text).Distinct()
                .Order(StringComparer.Ordinal),
        ];
        if (before.Length > 0)
        {
            yield return this.Doubt(
                "Another identity was seen under this tag before: the sticker moved to another card, or the card changed what it says.",
                Sources.Practice,
                "Check the sticker; a card that changes its identity is not what it says.",
                new FindingValue("now", now.Text),
                new FindingValue("before", string.Join(", ", before)));
        }
    }
}
