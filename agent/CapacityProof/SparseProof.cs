using Cardassay.Agent.BlockIo;
using Cardassay.Agent.Trials;
using Cardassay.Trials;

namespace Cardassay.Agent.CapacityProof;

/// <summary>
/// Proves with a few thousand probes that a card keeps what it claims, or finds out how much it keeps. Certain for addresses taken modulo
/// anything and for a lost top, as long as the controller's cache is smaller than the eviction; everything else is found as
/// often as the random probes promise. Destroys what is on the card.
/// </summary>
internal sealed class SparseProof
{
    private readonly IBlockTarget _target;
    private readonly SparseOptions _options;
    private readonly ProofContext _context;
    private readonly SparsePlan _plan;
    private readonly ProofIo _io;
    private readonly ProofRate _rate;
    private readonly ProofLedger _ledger = new();
    private readonly SortedDictionary<long, JudgedBlock> _judged = [];
    private readonly Cardassay.Trials.Conditions _before;
    private long _writtenBlocks;
    private long _evictedBlocks;
    private long _followUpBlocks;
    private int _rounds;

    private SparseProof(IBlockTarget target, SparseOptions options, ProofContext context, CancellationToken cancellation)
    {
        _target = target;
        _options = options;
        _context = context;
        _plan = new SparsePlan(target.SizeBytes, options, context.Seed);
        _io = new ProofIo(target, cancellation);
        _rate = new ProofRate(context);
        _before = context.Conditions?.Sample() ?? new();
    }

    /// <summary>Bytes a sparse proof writes when it finds nothing.</summary>
    public static long PlannedBytes(long sizeBytes, SparseOptions options)
    {
        var plan = new SparsePlan(sizeBytes, options, 0);
        long probes = plan.Run.Count + plan.HighToLow.Count;
        return SectorTag.BlockBytes * (probes + Math.Min(options.EvictionBytes / SectorTag.BlockBytes, plan.Blocks - probes));
    }

    /// <summary>Runs it to its end, or to where it was stopped.</summary>
    public static ProofEnd Run(IBlockTarget target, SparseOptions options, ProofContext context, CancellationToken cancellation)
    {
        var proof = new SparseProof(target, options, context, cancellation);
        using var back = new ReadBack(proof._io, () => context.Conditions?.Sample().LinkErrors);
        try
        {
            Boundaries found = proof.Probe(back);
            if (context.CardWatch?.WhatChanged() is { } changed)
            {
                throw new ProofStop(RunOutcome.Interrupted, changed);
            }

            return new ProofEnd(proof.Record(back, found), RunOutcome.Completed, null);
        }
        catch (ProofStop stop)
        {
            return new ProofEnd(proof.Record(back, null), stop.Outcome, stop.Message);
        }
        catch (OperationCanceledException)
        {
            return new ProofEnd(proof.Record(back, null), RunOutcome.Cancelled, "It was stopped.");
        }
    }

    private Boundaries Probe(ReadBack back)
    {
        SortedDictionary<long, JudgedBlock> first = Round(back, _plan.HighToLow, [_plan.Run]);
        foreach ((long block, JudgedBlock judged) in first)
        {
            _judged[block] = judged;
            _ledger.Add(block * SectorTag.BlockBytes, judged);
        }

        if (_ledger.Counts.Lost == 0)
        {
            return Boundaries.None;
        }

        long? period = _ledger.AliasStepSectors > 0
            ? new AliasPeriod(_plan.Blocks, SplitSeed.Of(_context.Seed, 1), (singles, runs) => Round(back, singles, runs)).Confirm(_ledger)
            : null;
        return period is { } sectors
            ? new Boundaries(true, sectors * SectorTag.SectorBytes)
            : new Boundaries(false, LostStretches.Refine(_judged, runs => Round(back, [], runs)));
    }

    private SortedDictionary<long, JudgedBlock> Round(ReadBack back, IReadOnlyList<long> singles, IReadOnlyList<BlockRun> runs)
    {
        ulong nonce = NonceOf(_rounds++);
        using var round = new SparseRound(
            _io, back, _plan.Blocks, _options.EvictionBytes / SectorTag.BlockBytes, nonce, (phase, done, total) => _rate.Tell(Phase(phase), done, total));
        try
        {
            return round.Run(singles, runs);
        }
        finally
        {
            _writtenBlocks += round.Written;
            _evictedBlocks += round.Evicted;
            _followUpBlocks += _rounds > 1 ? round.Written : 0;
        }
    }

    private string Phase(string phase) => _rounds > 1 ? phase + " (second look)" : phase;

    private ulong NonceOf(int round) => SplitSeed.NonceOf(SplitSeed.Of(_context.Seed, 100 + round));

    private ProofMeasured Record(ReadBack back, Boundaries? found)
    {
        long covered = _plan.Blocks * SectorTag.BlockBytes;
        var map = new RangeMap();
        ProbedRanges.Fill(map, _judged, covered, found is { IsPeriodic: true } ? found.TrueBytes : null);
        BlockCounts counts = _ledger.Counts;
        ProofFinding finding = found is null ? ProofFinding.Unknown : FindingOfProof.Of(counts, LostStretches.AreFew(_judged, _plan.Blocks), found.IsPeriodic ? found.TrueBytes : null);
        Cardassay.Trials.Conditions after = _context.Conditions?.Sample() ?? new();
        bool isClean = finding == ProofFinding.NoneFound;
        return new ProofMeasured
        {
            RunId = _context.RunId,
            Complete = found is not null,
            Kind = ProofKind.Sparse,
            ClaimedBytes = _context.ClaimedBytes,
            CoveredBytes = covered,
            Finding = finding,
            TrueBytes = isClean || finding == ProofFinding.Scattered ? null : found?.TrueBytes,
            BlocksWritten = _writtenBlocks,
            BlocksRead = _judged.Count,
            Counts = counts,
            LatticeBlocks = _plan.LatticeBlocks,
            LatticeOperations = 2 * (_plan.IsLattice.Count + ((_plan.Run.Count + Eviction.WriteBlocks - 1) / Eviction.WriteBlocks)),
            EdgeProbes = _plan.EdgeProbes,
            RandomProbes = _plan.Random.Count,
            EvictionBlocks = _evictedBlocks,
            FollowUpBlocks = _followUpBlocks,

            // n clean probes bound the lost part at 95 % by 3 / n, since ln(0.05) = -2.996; where every block was probed none is left to be lost.
            LostFractionBelow = isClean && _judged.Count < _plan.Blocks ? Math.Min(1, 3.0 / _plan.Random.Count) : null,
            Ranges = map.UpTo(covered),
            RangeGrainBytes = map.GrainBytes,
            LostBlocks = _ledger.Examples,
            AliasStepBytes = found is { IsPeriodic: true, TrueBytes: { } period } ? period : _ledger.AliasStepSectors * SectorTag.SectorBytes,
            Repeats = _io.Repeats,
            WriteErrors = _io.WriteErrors,
            LinkSuspectBlocks = back.LinkSuspects,
            LinkErrors = after.LinkErrors - _before.LinkErrors,
            Seed = _context.Seed,
            Nonce = NonceOf(0),
            WriteNs = _rate.NsOf("writing") + _rate.NsOf("evicting"),
            ReadNs = _rate.NsOf("reading"),
            Remarks = ProofRemarks.Of(_context.ClaimedBytes - covered, _io, _context),
            Before = _before,
            After = after,
        };
    }
}
