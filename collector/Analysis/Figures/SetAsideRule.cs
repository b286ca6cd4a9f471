namespace Cardassay.Collector.Analysis.Figures;

/// <summary>Why a figure is shown but not pooled. Nothing is set aside without one of these.</summary>
public enum SetAsideRule
{
    /// <summary>The plan marks it as warm-up.</summary>
    WarmUpRole,

    /// <summary>It is the closing repetition of the run's first trial.</summary>
    ClosingRole,

    /// <summary>The board marked it invalid.</summary>
    Invalid,

    /// <summary>It took no time.</summary>
    NoFigure,

    /// <summary>It read what nobody had written and verified.</summary>
    ContentUnknown,

    /// <summary>The supply sensor raised its alarm.</summary>
    UnderVoltage,

    /// <summary>The board throttled.</summary>
    Throttled,

    /// <summary>The error counters of the bus rose during the trial.</summary>
    LinkErrors,

    /// <summary>The disk moved less than the trial claims: the page cache answered.</summary>
    TooLittleTraffic,

    /// <summary>The disk moved more than the trial asked for.</summary>
    OtherTraffic,

    /// <summary>Faster than the bus can carry: a cache or a timer answered.</summary>
    AboveBusCeiling,

    /// <summary>The same run id arrived under another record key before.</summary>
    DuplicateRun,

    /// <summary>The pooled history shows that first repetitions of this plan and metric are unlike the others (METHOD rule 5).</summary>
    FirstRun,
}
