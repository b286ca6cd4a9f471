using Cardassay.Agent.BlockIo;
using Cardassay.Agent.Trials;
using Cardassay.Identity;
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
    private readonly ProofTroubles _troubles;
    private readonly long _began;
    private ProofLedger _ledger = new();
    private SortedDictionary<long, JudgedBlock> _judged = [];
    private IReadOnlyList<long> _further = [];
    private int _furtherLost;
    private int _randomLost;
    private readonly Cardassay.Trials.Conditions _before;
    private long _writtenBlocks;
    private long _evictedBlocks;
    private long _followUpBlocks;
    private long _writtenAgainBlocks;
    private long _readAgainBlocks;
    private long _cameRightBlocks;
    private TimeSpan? _readAgainAfter;
    private int _rounds;

    private SparseProof(IBlockTarget target, SparseOptions options, ProofContext context, CancellationToken cancellation)
    {
        _target = target;
        _options = options;
        _context = context;
        _plan = new SparsePlan(target.SizeBytes, options, context.Seed);
        _troubles = new ProofTroubles(context);
        _io = new ProofIo(target, context, _troubles, cancellation);
        _began = context.Time.GetTimestamp();
        _rate = new ProofRate(context, options.Budget);
        _before = context.Conditions?.Sample() ?? new();
    }

    /// <summary>Bytes a sparse proof writes when it finds nothing.</summary>
    public static long PlannedBytes(long sizeBytes, SparseOptions options)
    {
        if (options.Budget is not null)
        {
            return sizeBytes;
        }

        var plan = new SparsePlan(sizeBytes, options, 0);
        long probes = plan.Run.Count + plan.HighToLow.Count;
        return SectorTag.BlockBytes * (probes + Math.Min(options.EvictionBytes / SectorTag.BlockBytes, plan.Blocks - probes));
    }

    /// <summary>Runs it to its end, or to where it was stopped.</summary>
    public static ProofEnd Run(IBlockTarget target, SparseOptions options, ProofContext context, CancellationToken cancellation)
    {
        var proof = new SparseProof(target, options, context, cancellation);
        using ProofIo io = proof._io;
        using var back = new ReadBack(io);
        try
        {
            Boundaries found = proof.Probe(back);
            if (context.CardWatch?.WhatChanged() is { } changed)
            {
                throw new ProofStop(RunOutcome.Interrupted, changed);
            }

            return new ProofEnd(proof.Record(found), RunOutcome.Completed, null);
        }
        catch (ProofStop stop)
        {
            return new ProofEnd(proof.Record(null), stop.Outcome, stop.Message);
        }
        catch (OperationCanceledException)
        {
            return new ProofEnd(proof.Record(null), RunOutcome.Cancelled, "It was stopped.");
        }
    }

    private Boundaries Probe(ReadBack back)
    {
        Round(back, _plan.HighToLow, [_plan.Run], isFirst: true);
        if (_ledger.Counts.Lost == 0)
        {
            return Boundaries.None;
        }

        long? period = _ledger.AliasStepSectors > 0
            ? new AliasPeriod(_plan.Blocks, SplitSeed.Of(_context.Seed, 1), (singles, runs) => Round(back, singles, runs)).Confirm(_ledger)
            : null;
        if (period is { } sectors)
        {
            return new Boundaries(true, sectors * SectorTag.SectorBytes);
        }

        var found = new Boundaries(false, LostStretches.Refine(_judged, runs => Round(back, [], runs)));
        LookFurther(back);
        return found;
    }

    /// <summary>
    /// Where blocks here and there are lost, the first random probes hardly tell whether a hundredth of the claim is, on which the word
    /// hangs: a full proof would count. More of them do, as long as the first ones alone leave it open.
    /// </summary>
    private void LookFurther(ReadBack back)
    {
        bool isEndLost =
            _plan.Blocks - LostStretches.LostToEndFrom(_judged, _plan.Blocks) >= ProofJudgement.EndStretchLeastBytes / SectorTag.BlockBytes;
        if (_ledger.Counts.Lost == _ledger.Counts.Decayed || isEndLost
            || BinomialBound.Lower(_randomLost, _plan.Random.Count) >= 2 * ProofJudgement.OverstatedFraction)
        {
            return;
        }

        _further = SparsePlan.Strata(_plan.Blocks, _options.FurtherRandomProbes, SplitSeed.Of(_context.Seed, 2));
        SortedDictionary<long, JudgedBlock> found = Round(back, [.. _further.Reverse()], []);
        _furtherLost = LostOf(_further, found);
        foreach ((long block, JudgedBlock judged) in found)
        {
            _judged[block] = judged;
        }
    }

    /// <summary>How many of some probes were lost; flipped bits are stored bits.</summary>
    private static int LostOf(IReadOnlyList<long> probes, SortedDictionary<long, JudgedBlock> judged) =>
        probes.Count(b => judged.TryGetValue(b, out JudgedBlock found) && found.IsLost && found.State != BlockState.Decayed);

    private SortedDictionary<long, JudgedBlock> Round(
        ReadBack back, IReadOnlyList<long> singles, IReadOnlyList<BlockRun> runs, bool isFirst = false)
    {
        ulong nonce = NonceOf(_rounds++);
        using var round = new SparseRound(
            _io, back, _context, _plan.Blocks, nonce, (phase, done, total, keeps) => _rate.Tell(Phase(phase), done, total, keeps));
        try
        {
            TimeSpan? budget = isFirst ? _options.Budget : null;
            round.Run(
                singles,
                runs,
                _options.EvictionBytes / SectorTag.BlockBytes,
                budget is { } whole ? () => _context.Time.GetElapsedTime(_began) < whole / 2 : null,
                budget is { } end ? () => _context.Time.GetElapsedTime(_began) < end : null,
                readsEviction: isFirst);
            return round.Found;
        }
        finally
        {
            _writtenBlocks += round.Written;
            _evictedBlocks += round.Evicted;
            _followUpBlocks += isFirst ? 0 : round.Written;
            if (isFirst)
            {
                // Also when it was cut off: what was read back right until then was outstanding as a whole.
                (_judged, _ledger) = (round.Found, round.Ledger);
                if (!round.Found.Values.Any(j => j.IsLost))
                {
                    foreach ((long block, JudgedBlock judged) in round.FoundBetween)
                    {
                        _judged[block] = judged;
                    }
                }

                _randomLost = LostOf(_plan.Random, _judged);
                (_writtenAgainBlocks, _readAgainBlocks, _cameRightBlocks, _readAgainAfter) =
                    (round.WrittenAgain, round.ReadAgain, round.CameRight, round.ReadAgainAfter);
            }
        }
    }

    private string Phase(string phase) => _rounds > 1 ? phase + " (second look)" : phase;

    private ulong NonceOf(int round) => SplitSeed.NonceOf(SplitSeed.Of(_context.Seed, 100 + round));

    private ProofMeasured Record(Boundaries? found)
    {
        long covered = _plan.Blocks * SectorTag.BlockBytes;
        var map = new RangeMap();
        ProbedRanges.Fill(map, _judged, covered, found is { IsPeriodic: true } ? found.TrueBytes : null);
        BlockCounts counts = _ledger.Counts;
        ProofFinding finding = found is null
            ? ProofFinding.Unknown
            : FindingOfProof.Of(counts, LostStretches.AreFew(_judged, _plan.Blocks), found.IsPeriodic ? found.TrueBytes : null);
        Cardassay.Trials.Conditions after = _context.Conditions?.Sample() ?? new();
        bool isClean = finding == ProofFinding.NoneFound;
        long read = counts.Kept + counts.Lost + counts.NotJudged;
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
            BlocksRead = read,
            Counts = counts,
            LatticeBlocks = _plan.LatticeBlocks,
            LatticeOperations = 2 * (_plan.IsLattice.Count + ((_plan.Run.Count + Eviction.WriteBlocks - 1) / Eviction.WriteBlocks)),
            EdgeProbes = _plan.EdgeProbes,
            RandomProbes = _plan.Random.Count + _further.Count,
            EvictionBlocks = _evictedBlocks,
            FollowUpBlocks = _followUpBlocks,

            // n clean probes bound the lost part at 95 % by 3 / n, since ln(0.05) = -2.996; where every block was
            // probed none is left to be lost.
            LostFractionBelow = isClean && read < _plan.Blocks ? Math.Min(1, 3.0 / _plan.Random.Count) : null,
            Ranges = map.UpTo(covered),
            RangeGrainBytes = map.GrainBytes,
            LostBlocks = _ledger.Examples,
            AliasStepBytes = found is { IsPeriodic: true, TrueBytes: { } period }
                ? period
                : _ledger.AliasStepSectors * SectorTag.SectorBytes,
            Repeats = _io.Repeats,
            WriteErrors = _io.WriteErrors,
            LinkSuspectBlocks = _ledger.LinkSuspects,
            RefusedBlocks = _ledger.Refused,
            AwayBlocks = _ledger.Away,
            KeepsAtLeastBytes = Math.Max(0, counts.Kept - _writtenAgainBlocks) * SectorTag.BlockBytes,
            LostToEndFromBytes = LostStretches.LostToEndFrom(_judged, _plan.Blocks) * SectorTag.BlockBytes,
            RandomLost = _randomLost + _furtherLost,
            BudgetNs = (long?)_options.Budget?.TotalNanoseconds,
            ReadAgainBlocks = _readAgainBlocks,
            ReadAgainAfterNs = (long?)_readAgainAfter?.TotalNanoseconds,
            CameRightBlocks = _cameRightBlocks,
            Absences = _troubles.Absences,
            AwayNs = (long)_troubles.Away.TotalNanoseconds,
            Troubles = _troubles.All,
            LinkErrors = after.LinkErrors - _before.LinkErrors,
            Seed = _context.Seed,
            Nonce = NonceOf(0),
            WriteNs = _rate.NsOf("writing") + _rate.NsOf("evicting") + _rate.NsOf("filling"),
            ReadNs = _rate.NsOf("reading"),
            Remarks = ProofRemarks.Of(_context.ClaimedBytes - covered, _io, _context),
            Before = _before,
            After = after,
        };
    }
}
