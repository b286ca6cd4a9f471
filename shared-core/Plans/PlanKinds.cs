using Cardassay.Trials;

namespace Cardassay.Plans;

/// <summary>What a step of a plan does by the kind of its trials when it says nothing else.</summary>
public static class PlanKinds
{
    /// <summary>Longest a card may be busy with one write, ms: SD physical layer specification 4.10, 4.6.2.</summary>
    public const double WriteStallLimitMs = 250;

    /// <summary>Longest it may take for one read, ms: the same.</summary>
    public const double ReadStallLimitMs = 100;

    /// <summary>
    /// Stall limit when the plan names none, ms: what the standard allows for all that an operation waits for; 0, which watches for
    /// none, where that says nothing.
    /// </summary>
    public static double DefaultStallLimitMs(TrialKind kind) =>
        TrialKinds.WaitsEach(kind) * (TrialKinds.Writes(kind) ? WriteStallLimitMs : ReadStallLimitMs);

    /// <summary>
    /// Bytes one operation transfers at the most, as the mean over many: the block, but for a transaction, which writes three,
    /// and a commit, which writes two.
    /// </summary>
    public static long BytesPerOperation(TrialKind kind, long blockBytes) => kind switch
    {
        TrialKind.Transaction => blockBytes * TransactionShape.WritesPerTransaction,
        TrialKind.DatabaseCommit => blockBytes * 2,
        _ => blockBytes,
    };
}
