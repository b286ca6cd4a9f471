using Cardassay.Trials;

namespace Cardassay.Proto.Tests;

internal static class ProofSamples
{
    /// <summary>A proof in which every member has a value of its own.</summary>
    internal static ProofMeasured Full(RunId run) => new()
    {
        RunId = run, Index = 1, Part = 2, Complete = true, Kind = ProofKind.Full, ClaimedBytes = 3, CoveredBytes = 4, Finding = ProofFinding.Mixed,
        TrueBytes = 5, BlocksWritten = 6, BlocksRead = 7, Counts = new BlockCounts(8, 9, 10, 11, 12, 13, 33), LatticeBlocks = 14, LatticeOperations = 15,
        EdgeProbes = 16, RandomProbes = 17, EvictionBlocks = 18, FollowUpBlocks = 19, LostFractionBelow = 0.01,
        Ranges = [new(0, 4096, BlockState.Kept), new(4096, 8192, BlockState.Unreadable)], RangeGrainBytes = 8192,
        LostBlocks = [new(4096, BlockState.Wrapped, 0), new(8192, BlockState.Constant, null, 0xFF), new(12288, BlockState.Decayed, null, 0, 3, 17)],
        AliasStepBytes = 20, Repeats = 21, WriteErrors = 22, LinkSuspectBlocks = 23, LinkErrors = 24, Seed = ulong.MaxValue, Nonce = 25,
        WrittenThroughBytes = 26, ReadThroughBytes = 27, ResumedAtBytes = 28, PutInAgain = true, WriteNs = 29, ReadNs = 30, Remarks = ["Remark."],
        Before = new Conditions { LinkErrors = 31 }, After = new Conditions { LinkErrors = 32 },
        KeepsAtLeastBytes = 34, LostToEndFromBytes = 35, RandomLost = 36, BudgetNs = 37, ReadAgainBlocks = 38, ReadAgainAfterNs = 39, CameRightBlocks = 40,
        RefusedBlocks = 41, AwayBlocks = 42, Absences = 43, AwayNs = 44, Troubles = [new(4096, 8192, true, 45, 46)],
    };
}
