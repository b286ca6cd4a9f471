using Cardassay.Agent.BlockIo;
using Cardassay.Agent.CapacityProof;
using Cardassay.Agent.Delivery;
using Cardassay.Registers;
using Cardassay.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>A capacity proof inside a run: the same for `prove` and for a plan that begins with one.</summary>
internal sealed class ProofWork
{
    private readonly RunSite _site;
    private readonly ProofKind _kind;
    private readonly ProofCheckpoint _checkpoint;

    internal ProofWork(RunSite site, ProofKind kind, AgentFolder folder)
    {
        _site = site;
        _kind = kind;
        _checkpoint = ProofCheckpoint.For(folder, site);
    }

    /// <summary>A full proof can be taken up again from every so many bytes.</summary>
    internal long CheckpointBytes { get; init; } = 256L << 20;

    /// <summary>Called between writing and reading of a full proof.</summary>
    internal Func<IBlockTarget, CancellationToken, IBlockTarget>? Between { get; init; }

    /// <summary>Forget how far an interrupted proof came.</summary>
    internal bool FromStart { get; init; }

    /// <summary>Bytes a proof of a range writes when it finds nothing.</summary>
    internal long PlannedBytes(long rangeBytes) => _kind == ProofKind.Sparse
        ? SparseProof.PlannedBytes(rangeBytes, Sparse())
        : FullProof.PlannedBytes(rangeBytes, Full());

    /// <summary>How far an earlier full proof of this card came, if it can be taken up again.</summary>
    internal ProofMeasured? Interrupted(long rangeBytes) =>
        _kind == ProofKind.Full && !FromStart && _checkpoint.Load() is { Complete: false, Kind: ProofKind.Full } earlier
        && earlier.CoveredBytes == rangeBytes / SectorTag.BlockBytes * SectorTag.BlockBytes ? earlier : null;

    /// <summary>Proves and journals what came of it.</summary>
    /// <returns>The end, and the bytes this run wrote for it.</returns>
    internal (ProofEnd End, long BytesWritten) Run(IBlockTarget target, ObservationJournal journal, RunDisplay display, CancellationToken cancellationToken)
    {
        ProofMeasured? earlier = Interrupted(target.SizeBytes);
        if (earlier is not null && !EarlierPass.IsStillThere(target, earlier))
        {
            display.Line(AgentEvent.ProofBegunAnew, "The card no longer holds the blocks of the earlier proof; this one begins anew.");
            earlier = null;
        }

        if (earlier is null)
        {
            _checkpoint.Forget();
        }

        var context = new ProofContext
        {
            RunId = _site.RunId,
            Seed = earlier?.Seed ?? _site.Seed,
            ClaimedBytes = _kind == ProofKind.FreeSpace ? _site.Target.DiskBytes : _site.Target.DeviceBytes,
            Observer = new ProofKeeper(journal, display, _kind == ProofKind.Full ? _checkpoint : null, TimeProvider.System),
            Conditions = _site.Conditions,
            CardWatch = _site.Watch,
        };
        ProofEnd end = _kind == ProofKind.Sparse
            ? SparseProof.Run(target, Sparse(), context, cancellationToken)
            : FullProof.Run(target, Full(), earlier, context, cancellationToken);
        journal.Record(end.Proof);
        if (end.Proof.Complete)
        {
            _checkpoint.Forget();
        }

        return (end, SectorTag.BlockBytes * (end.Proof.BlocksWritten + end.Proof.EvictionBlocks - (earlier?.BlocksWritten ?? 0)));
    }

    private FullOptions Full() => new() { Kind = _kind, CheckpointBytes = CheckpointBytes, Between = Between };

    private SparseOptions Sparse()
    {
        var options = new SparseOptions();
        Reading<SdStatus> status = _site.Card is { } card
            ? Identity.CardRegisters.From(card.ToObservation(_site.RunId)).Status
            : Reading<SdStatus>.Absent();
        return status.Value?.AllocationUnitBytes is { } unit and > 0 ? options with { UnitBytes = unit } : options;
    }
}
