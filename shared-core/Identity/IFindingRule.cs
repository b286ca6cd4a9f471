namespace Cardassay.Identity;

/// <summary>One rule that looks for one kind of evidence. Pure: the same evidence gives the same findings in the same order.</summary>
public interface IFindingRule
{
    /// <summary>Stable id, kebab-case; every finding of the rule carries it.</summary>
    string Id { get; }

    /// <summary>What it finds; nothing when the evidence it needs is not there. Never throws.</summary>
    IEnumerable<Finding> Check(CardEvidence evidence);
}
