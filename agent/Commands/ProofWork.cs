using Cardassay.Agent.BlockIo;
using Cardassay.Agent.CapacityProof;
using Cardassay.Agent.Delivery;
using Cardassay.Agent.Trials;
using Cardassay.Registers;
using Cardassay.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>A capacity proof inside a run: the same for `prove` and for a plan that begins with one.</summary>
internal sealed class ProofWork
{
    private readonly RunSite _site;
    private readonly ProofKind _kind;
    private readonly ProofCheckpoint _checkpoint;
    private readonly ProvenCard? _proven;

    internal ProofWork(RunSite site, ProofKind kind, AgentFolder folder)
    {
        _site = site;
        _kind = kind;
        _checkpoint = ProofCheckpoint.For(folder, site);
        _proven = ProvenCard.For(folder, site);
    }

    /// <summary>A full proof can be taken up again from every so many bytes.</summary>
    internal long CheckpointBytes { get; init; } = 256L << 20;

    /// <summary>Called between writing and reading of a full proof.</summary>
    internal Func<IBlockTarget, CancellationToken, IBlockTarget>? Between { get; init; }

    /// <summary>Time for a sparse proof to spend on further blocks; null without.</summary>
    internal TimeSpan? Budget { get; init; }

    /// <summary>Forget how far an interrupted proof came.</summary>
    internal bool FromStart { get; init; }

    /// <summary>Bytes a proof of a range writes when it finds nothing; with a time budget, at the most.</summary>
    internal long PlannedBytes(long rangeBytes) => _kind == ProofKind.Sparse
        ? SparseProof.PlannedBytes(rangeBytes, Sparse())
        : FullProof.PlannedBytes(rangeBytes, Full());

    /// <summary>How far an earlier full proof of this card came, if it can be taken up again.</summary>
    internal KeptProof? Interrupted(long rangeBytes) =>
        _kind == ProofKind.Full && !FromStart && _checkpoint.Load() is { Proof: { Complete: false, Kind: ProofKind.Full } } kept
        && kept.Proof.CoveredBytes == rangeBytes / SectorTag.BlockBytes * SectorTag.BlockBytes ? kept : null;

    /// <summary>Proves and journals what came of it.</summary>
    /// <returns>The end, and the bytes this run wrote for it.</returns>
    internal (ProofEnd End, long BytesWritten) Run(
        IBlockTarget target, ObservationJournal journal, RunDisplay display, CancellationToken cancellationToken)
    {
        KeptProof? kept = Interrupted(target.SizeBytes);
        ProofMeasured? earlier = kept?.Proof;
        if (kept is not null && WhyNotJudged(target, kept) is { } reason)
        {
            display.Line(AgentEvent.ProofBegunAnew,
                $"What the earlier proof wrote is not judged: {reason}. It is written again; this proof begins anew.");
            earlier = null;
        }

        if (earlier is null)
        {
            _checkpoint.Forget();
        }

        CardHistory before = _site.Written;
        long earlierBlocks = earlier?.BlocksWritten ?? 0;
        var context = new ProofContext
        {
            RunId = _site.RunId,
            Seed = earlier?.Seed ?? _site.Seed,
            ClaimedBytes = _kind == ProofKind.FreeSpace ? _site.Target.DiskBytes : _site.Target.DeviceBytes,
            Observer = new ProofKeeper(journal, display, _kind == ProofKind.Full ? _checkpoint : null, _site.Presence, Reached,
                TimeProvider.System),
            Conditions = _site.Conditions,
            CardWatch = _site.Watch,
        };
        ProofEnd end = _kind == ProofKind.Sparse
            ? SparseProof.Run(target, Sparse(), context, cancellationToken)
            : FullProof.Run(target, Full(), earlier, context, cancellationToken);
        journal.Record(end.Proof);
        if (end.Proof.Complete)
        {
            _proven?.Remember(end.Proof);
            _checkpoint.Forget();
        }

        return (end, BytesWritten(end.Proof));

        long BytesWritten(ProofMeasured proof) => SectorTag.BlockBytes * (proof.BlocksWritten + proof.EvictionBlocks - earlierBlocks);

        // Which pieces it fills is known at its end.
        void Reached(ProofMeasured soFar)
        {
            _site.Wrote(before.After(BytesWritten(soFar), null, FilledPieces.None));
            _site.At(_site.Step);
        }
    }

    /// <summary>
    /// Why something else may have written to the card since the last flush, as the end of a sentence; null when nothing can have: then,
    /// and only then, what is lost of the earlier part is the card's doing.
    /// </summary>
    private string? WhyNotJudged(IBlockTarget target, KeptProof kept)
    {
        CardPresence now = _site.Presence();
        if (kept.Presence.BootId is null || now.BootId != kept.Presence.BootId)
        {
            return "the board was started anew since, so the kernel cannot tell what wrote to the card";
        }

        if (kept.Presence.DiskSequence is null || now.DiskSequence != kept.Presence.DiskSequence)
        {
            return "the card was taken out or changed since, or this kernel gives no diskseq to tell";
        }

        if (kept.Proof.WriteErrors > 0 || kept.Proof.Troubles.Count > 0)
        {
            return "writes were refused, the link erred or the device was away in it";
        }

        long own = EarlierPass.BlocksAfterLastFlush(target, kept.Proof,
            2 * CheckpointBytes) * (SectorTag.BlockBytes / SectorTag.SectorBytes);
        return now.SectorsWritten - kept.Presence.SectorsWritten != own
            ? "the kernel counted other writes to the card since, or does not count them"
            : EarlierPass.IsStillThere(target, kept.Proof) ? null
            : "the card does not hold all of it";
    }

    private FullOptions Full() => new() { Kind = _kind, CheckpointBytes = CheckpointBytes, Between = Between };

    private SparseOptions Sparse()
    {
        var options = new SparseOptions { Budget = Budget };
        Reading<SdStatus> status = _site.Card is { } card
            ? Identity.CardRegisters.From(card.ToObservation(_site.RunId)).Status
            : Reading<SdStatus>.Absent();
        return status.Value?.AllocationUnitBytes is { } unit and > 0 ? options with { UnitBytes = unit } : options;
    }
}
