using Cardassay.Trials;

namespace Cardassay.Wire;

internal static class ProofCodec
{
    internal static V1.ProofMeasured ToMessage(ProofMeasured proof)
    {
        var message = new V1.ProofMeasured
        {
            RunId = ObservationCodec.ToBytes(proof.RunId),
            Index = proof.Index,
            Part = proof.Part,
            Complete = proof.Complete,
            Kind = (V1.ProofKind)proof.Kind,
            ClaimedBytes = proof.ClaimedBytes,
            CoveredBytes = proof.CoveredBytes,
            Finding = (V1.ProofFinding)proof.Finding,
            BlocksWritten = proof.BlocksWritten,
            BlocksRead = proof.BlocksRead,
            KeptBlocks = proof.Counts.Kept,
            WrappedBlocks = proof.Counts.Wrapped,
            DroppedBlocks = proof.Counts.Dropped,
            ConstantBlocks = proof.Counts.Constant,
            DecayedBlocks = proof.Counts.Decayed,
            UnreadableBlocks = proof.Counts.Unreadable,
            LatticeBlocks = proof.LatticeBlocks,
            LatticeOperations = proof.LatticeOperations,
            EdgeProbes = proof.EdgeProbes,
            RandomProbes = proof.RandomProbes,
            EvictionBlocks = proof.EvictionBlocks,
            FollowUpBlocks = proof.FollowUpBlocks,
            RangeGrainBytes = proof.RangeGrainBytes,
            AliasStepBytes = proof.AliasStepBytes,
            Repeats = proof.Repeats,
            WriteErrors = proof.WriteErrors,
            LinkSuspectBlocks = proof.LinkSuspectBlocks,
            Seed = proof.Seed,
            Nonce = proof.Nonce,
            WrittenThroughBytes = proof.WrittenThroughBytes,
            ReadThroughBytes = proof.ReadThroughBytes,
            PutInAgain = proof.PutInAgain,
            WriteNs = proof.WriteNs,
            ReadNs = proof.ReadNs,
            Before = ConditionsCodec.ToMessage(proof.Before),
            After = ConditionsCodec.ToMessage(proof.After),
            NotJudgedBlocks = proof.Counts.NotJudged,
            RandomLost = proof.RandomLost,
            ReadAgainBlocks = proof.ReadAgainBlocks,
            CameRightBlocks = proof.CameRightBlocks,
            RefusedBlocks = proof.RefusedBlocks,
            AwayBlocks = proof.AwayBlocks,
            Absences = proof.Absences,
            AwayNs = proof.AwayNs,
        };
        SetOptional(message, proof);
        message.Ranges.AddRange(proof.Ranges.Select(r => new V1.ProofRange
        {
            StartBytes = r.StartBytes,
            EndBytes = r.EndBytes,
            State = (V1.BlockState)r.State,
        }));
        message.LostBlocks.AddRange(proof.LostBlocks.Select(ToMessage));
        message.Remarks.AddRange(proof.Remarks);
        message.Troubles.AddRange(proof.Troubles.Select(t => new V1.ProofTrouble
        {
            StartBytes = t.StartBytes,
            EndBytes = t.EndBytes,
            WasWriting = t.WasWriting,
            LinkErrors = t.LinkErrors,
            Absences = t.Absences,
        }));
        return message;
    }

    private static void SetOptional(V1.ProofMeasured message, ProofMeasured proof)
    {
        if (proof.TrueBytes is { } trueBytes)
        {
            message.TrueBytes = trueBytes;
        }

        if (proof.LostFractionBelow is { } bound)
        {
            message.LostFractionBelow = bound;
        }

        if (proof.LinkErrors is { } linkErrors)
        {
            message.LinkErrors = linkErrors;
        }

        if (proof.ResumedAtBytes is { } resumedAt)
        {
            message.ResumedAtBytes = resumedAt;
        }

        if (proof.KeepsAtLeastBytes is { } keeps)
        {
            message.KeepsAtLeastBytes = keeps;
        }

        if (proof.LostToEndFromBytes is { } lostFrom)
        {
            message.LostToEndFromBytes = lostFrom;
        }

        if (proof.BudgetNs is { } budget)
        {
            message.BudgetNs = budget;
        }

        if (proof.ReadAgainAfterNs is { } after)
        {
            message.ReadAgainAfterNs = after;
        }
    }

    internal static ProofMeasured FromMessage(V1.ProofMeasured message) => new()
    {
        RunId = ObservationCodec.ToRunId(message.RunId),
        Index = message.Index,
        Part = message.Part,
        Complete = message.Complete,
        Kind = (ProofKind)message.Kind,
        ClaimedBytes = message.ClaimedBytes,
        CoveredBytes = message.CoveredBytes,
        Finding = (ProofFinding)message.Finding,
        TrueBytes = message.HasTrueBytes ? message.TrueBytes : null,
        BlocksWritten = message.BlocksWritten,
        BlocksRead = message.BlocksRead,
        Counts = new BlockCounts(
            message.KeptBlocks, message.WrappedBlocks, message.DroppedBlocks, message.ConstantBlocks, message.DecayedBlocks, message.UnreadableBlocks,
            message.NotJudgedBlocks),
        LatticeBlocks = message.LatticeBlocks,
        LatticeOperations = message.LatticeOperations,
        EdgeProbes = message.EdgeProbes,
        RandomProbes = message.RandomProbes,
        EvictionBlocks = message.EvictionBlocks,
        FollowUpBlocks = message.FollowUpBlocks,
        LostFractionBelow = message.HasLostFractionBelow ? message.LostFractionBelow : null,
        Ranges = [.. message.Ranges.Select(r => new ProofRange(r.StartBytes, r.EndBytes, (BlockState)r.State))],
        RangeGrainBytes = message.RangeGrainBytes,
        LostBlocks = [.. message.LostBlocks.Select(FromMessage)],
        AliasStepBytes = message.AliasStepBytes,
        Repeats = message.Repeats,
        WriteErrors = message.WriteErrors,
        LinkSuspectBlocks = message.LinkSuspectBlocks,
        LinkErrors = message.HasLinkErrors ? message.LinkErrors : null,
        Seed = message.Seed,
        Nonce = message.Nonce,
        WrittenThroughBytes = message.WrittenThroughBytes,
        ReadThroughBytes = message.ReadThroughBytes,
        ResumedAtBytes = message.HasResumedAtBytes ? message.ResumedAtBytes : null,
        PutInAgain = message.PutInAgain,
        WriteNs = message.WriteNs,
        ReadNs = message.ReadNs,
        Remarks = [.. message.Remarks],
        Before = ConditionsCodec.FromMessage(message.Before),
        After = ConditionsCodec.FromMessage(message.After),
        RandomLost = message.RandomLost,
        ReadAgainBlocks = message.ReadAgainBlocks,
        CameRightBlocks = message.CameRightBlocks,
        RefusedBlocks = message.RefusedBlocks,
        AwayBlocks = message.AwayBlocks,
        Absences = message.Absences,
        AwayNs = message.AwayNs,
        KeepsAtLeastBytes = message.HasKeepsAtLeastBytes ? message.KeepsAtLeastBytes : null,
        LostToEndFromBytes = message.HasLostToEndFromBytes ? message.LostToEndFromBytes : null,
        BudgetNs = message.HasBudgetNs ? message.BudgetNs : null,
        ReadAgainAfterNs = message.HasReadAgainAfterNs ? message.ReadAgainAfterNs : null,
        Troubles = [.. message.Troubles.Select(t => new ProofTrouble(t.StartBytes, t.EndBytes, t.WasWriting, t.LinkErrors, t.Absences))],
    };

    private static V1.LostBlock ToMessage(LostBlock block)
    {
        var message = new V1.LostBlock
        {
            OffsetBytes = block.OffsetBytes,
            State = (V1.BlockState)block.State,
            FoundValue = block.FoundValue,
            FlippedBits = block.FlippedBits,
            FirstFlippedBit = block.FirstFlippedBit,
        };
        if (block.FoundOffsetBytes is { } found)
        {
            message.FoundOffsetBytes = found;
        }

        return message;
    }

    private static LostBlock FromMessage(V1.LostBlock message) => new(
        message.OffsetBytes,
        (BlockState)message.State,
        message.HasFoundOffsetBytes ? message.FoundOffsetBytes : null,
        message.FoundValue,
        message.FlippedBits,
        message.FirstFlippedBit);
}
