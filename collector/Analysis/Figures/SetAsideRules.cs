namespace Cardassay.Collector.Analysis.Figures;

/// <summary>Stable ids and words of the rules.</summary>
public static class SetAsideRules
{
    /// <summary>Stable id, kebab-case ("link-errors").</summary>
    public static string IdOf(SetAsideRule rule) => rule switch
    {
        SetAsideRule.WarmUpRole => "warm-up-role",
        SetAsideRule.ClosingRole => "closing-role",
        SetAsideRule.Invalid => "invalid",
        SetAsideRule.NoFigure => "no-figure",
        SetAsideRule.ContentUnknown => "content-unknown",
        SetAsideRule.UnderVoltage => "under-voltage",
        SetAsideRule.Throttled => "throttled",
        SetAsideRule.LinkErrors => "link-errors",
        SetAsideRule.TooLittleTraffic => "too-little-traffic",
        SetAsideRule.OtherTraffic => "other-traffic",
        SetAsideRule.AboveBusCeiling => "above-bus-ceiling",
        SetAsideRule.DuplicateRun => "duplicate-run",
        SetAsideRule.FirstRun => "first-run",
        _ => throw new ArgumentOutOfRangeException(nameof(rule)),
    };

    /// <summary>The rule as a sentence.</summary>
    public static string SentenceOf(SetAsideRule rule) => rule switch
    {
        SetAsideRule.WarmUpRole => "The plan marks this trial as warm-up.",
        SetAsideRule.ClosingRole => "This is the first trial repeated at the end of the run, to show whether the card changed.",
        SetAsideRule.Invalid => "The board marked this trial invalid.",
        SetAsideRule.NoFigure => "The trial took no time.",
        SetAsideRule.ContentUnknown => "It read data nobody had written and verified, which a card may answer without reading its memory.",
        SetAsideRule.UnderVoltage => "The board's supply voltage was too low during the trial.",
        SetAsideRule.Throttled => "The board throttled itself during the trial.",
        SetAsideRule.LinkErrors => "Transfer errors between board and card occurred during the trial.",
        SetAsideRule.TooLittleTraffic => "The card transferred less than the trial claims, so the board's memory answered and not the card.",
        SetAsideRule.OtherTraffic => "Something else used the card during the trial.",
        SetAsideRule.AboveBusCeiling => "Faster than the bus mode can carry, so a cache or a timer answered and not the card.",
        SetAsideRule.DuplicateRun => "The same run was delivered before under another record key.",
        SetAsideRule.FirstRun => "Over all cards the first repetition of this trial is the worst one, or the best one, far too often for chance.",
        _ => throw new ArgumentOutOfRangeException(nameof(rule)),
    };
}
