using Cardassay.Registers;
using static Cardassay.Identity.Rules.RuleFinding;

namespace Cardassay.Identity.Rules;

/// <summary>
/// A card made before a feature it declares was public: the date or the feature is borrowed. Cards are sampled before a standard is
/// public, so 3 months are allowed (common practice, no source). Version 1.10 is left out: its public edition came long after it.
/// </summary>
internal sealed class FeatureBeforeItsTimeRule : IFindingRule
{
    private const int AllowedMonths = 3;
    private const string Memory = " (from memory)";

    public string Id => "feature-before-its-time";

    public IEnumerable<Finding> Check(CardEvidence evidence)
    {
        if (evidence.Registers.Manufactured is not { IsPossible: true } date || evidence.Registers.Type != CardType.Sd)
        {
            yield break;
        }

        FindingValue[] early =
        [
            .. Features(evidence.Registers).Where(f => date.MonthsUntil(f.Public) > AllowedMonths)
                .Select(f => Value(f.Name, $"public since {f.Public}{f.Remark}")),
        ];
        if (early.Length > 0)
        {
            yield return this.Doubt(
                Text($"The card states to be made in {date}, before these were public: {List([.. early.Select(v => v.Name)])}."),
                "SD Association, public pages; margin of 3 months: " + Sources.Practice,
                Sources.ReadElsewhere,
                [.. early, Value("manufactured", $"{date}")]);
        }
    }

    private static IEnumerable<(string Name, ManufactureDate Public, string Remark)> Features(CardRegisters registers)
    {
        switch (registers.Csd.Value?.Family)
        {
            case CardFamily.Sdhc: yield return ("SDHC", new(2006, 5), Memory); break;
            case CardFamily.Sdxc: yield return ("SDXC", new(2009, 1), ""); break;
            case CardFamily.Sduc: yield return ("SDUC", new(2018, 6), ""); break;
        }

        (int Year, int Month, string Remark)? version = registers.Scr.Value?.SpecMajor switch
        {
            2 => (2006, 5, Memory),
            3 => (2009, 1, ""),
            4 => (2011, 1, Memory),
            5 => (2016, 2, ""),
            6 => (2017, 2, ""),
            7 => (2018, 6, ""),
            8 => (2020, 5, Memory),
            9 => (2022, 1, Memory),
            _ => null,
        };
        if (version is var (year, month, remark))
        {
            yield return ($"version {registers.Scr.Value!.SpecVersion}", new(year, month), remark);
        }

        foreach (SpeedMark mark in registers.Status.Value is { } status ? SpeedMark.DeclaredBy(status) : [])
        {
            ManufactureDate? since = mark switch
            {
                { Kind: 'U', Level: 1 } => new(2010, 5),
                { Kind: 'U' } => new(2013, 11),
                { Kind: 'V' } => new(2016, 2),
                { Kind: 'A', Level: 1 } => new(2016, 11),
                { Kind: 'A' } => new(2017, 2),
                _ => null,
            };
            if (since is ManufactureDate first)
            {
                yield return (mark.ToString(), first, "");
            }
        }
    }
}
