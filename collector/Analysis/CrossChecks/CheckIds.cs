namespace Cardassay.Collector.Analysis.CrossChecks;

/// <summary>Stable ids of the cross-checks.</summary>
public static class CheckIds
{
    /// <summary>First repetitions are slower or faster than the rest, over all cards.</summary>
    public const string FirstRun = "first-run-effect";

    /// <summary>The level of a metric changed between runs.</summary>
    public const string LevelChange = "level-change";

    /// <summary>Repetition did not settle the figure.</summary>
    public const string Unsettled = "unsettled-repetition";

    /// <summary>A run far from the others.</summary>
    public const string Outlier = "outlying-run";

    /// <summary>Drift over nights.</summary>
    public const string Drift = "drift-over-nights";

    /// <summary>The reference card drifts: the rig does.</summary>
    public const string RigDrift = "rig-drift";

    /// <summary>The card changed between the first and the last trial of its runs.</summary>
    public const string ChangedDuringRun = "changed-during-run";

    /// <summary>A board measures the same cards differently.</summary>
    public const string BoardEffect = "board-effect";

    /// <summary>One board measures one card otherwise than card and board by themselves explain.</summary>
    public const string RigDisagreement = "rig-disagreement";

    /// <summary>The bus, not the card, limits a figure.</summary>
    public const string BusLimited = "bus-limited";

    /// <summary>A specimen behaves unlike the others of its product.</summary>
    public const string UnlikeItsProduct = "behaves-unlike-its-product";

    /// <summary>Slower than the speed stated.</summary>
    public const string SlowerThanStated = "slower-than-stated";

    /// <summary>Figures above what the bus can carry.</summary>
    public const string AboveBusCeiling = "above-bus-ceiling";

    /// <summary>Conditions spoilt trials.</summary>
    public const string SpoiltConditions = "spoilt-conditions";

    /// <summary>The board marked trials invalid.</summary>
    public const string InvalidTrials = "invalid-trials";

    /// <summary>An operation took longer than the standard allows a card.</summary>
    public const string LongStall = "long-stall";

    /// <summary>The conditions around a board's last trials speak against its figures.</summary>
    public const string BoardConditions = "board-conditions";

    /// <summary>An operation took long and waited for more than the card.</summary>
    public const string LongWait = "long-wait";

    /// <summary>Several tags on one device that shows no registers: a matter of the set-up, not of the cards.</summary>
    public const string SharedDevice = "one-device-several-tags";

    /// <summary>A trial completed no operation at all.</summary>
    public const string CompletedNothing = "completed-nothing";

    /// <summary>A run was delivered under two record keys.</summary>
    public const string DuplicateRun = "duplicate-run";

    /// <summary>Records are missing, or came with two contents.</summary>
    public const string Delivery = "delivery";

    /// <summary>A board's clock was wrong or ran backwards.</summary>
    public const string Clock = "clock-trouble";

    /// <summary>Another collector was told something else of the same card.</summary>
    public const string ClaimsDiffer = "claims-differ";

    /// <summary>Used specimens behave differently from new ones.</summary>
    public const string UsedAgainstNew = "used-against-new";
}
