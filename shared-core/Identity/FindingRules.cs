using Cardassay.Identity.Rules;

namespace Cardassay.Identity;

/// <summary>The rules, in the order a page shows their findings within one severity.</summary>
public static class FindingRules
{
    /// <summary>Every rule; ids are unique.</summary>
    public static IReadOnlyList<IFindingRule> All { get; } =
    [
        new CapacityProofRule(),
        new CapacityAgainstLabelRule(),
        new MarksAgainstClaimRule(),
        new MeasuredMarksRule(),
        new IdentityInTwoPlacesRule(),
        new IdentityWithOtherRegistersRule(),
        new IdentityUnderTwoTagsRule(),
        new TagWithOtherIdentityRule(),
        new ReferenceCardsRule(),
        new RegisterCrcRule(),
        new CapacityAgainstDiskRule(),
        new CapacityFamilyRule(),
        new NameAgainstCapacityRule(),
        new ProtectedAreaRule(),
        new CardTypeRule(),
        new FamilyAgainstVersionRule(),
        new FamilyAgainstSecurityRule(),
        new ExtendedCapacityDutiesRule(),
        new CommandsAgainstVersionRule(),
        new CsdFixedValuesRule(),
        new BlockLengthRule(),
        new TransferRateRule(),
        new CommandClassesRule(),
        new BusWidthsRule(),
        new AllocationUnitRule(),
        new MarksTogetherRule(),
        new MarksAgainstVersionRule(),
        new UndefinedCodesRule(),
        new ReservedBitsRule(),
        new FillerSerialRule(),
        new FillerNameRule(),
        new ManufactureMonthRule(),
        new ManufacturedInFutureRule(),
        new ManufacturedAfterPurchaseRule(),
        new OldStockRule(),
        new FeatureBeforeItsTimeRule(),
        new RegistersReadableRule(),
    ];

    /// <summary>All findings of a card: the weightiest first, then in the order of <see cref="All"/>.</summary>
    public static IReadOnlyList<Finding> Check(CardEvidence evidence) =>
        [.. All.SelectMany(rule => rule.Check(evidence)).OrderByDescending(finding => finding.Severity)];
}
