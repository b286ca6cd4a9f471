using Cardassay.Agent.BlockIo;
using Cardassay.Agent.Trials;
using Cardassay.Trials;

namespace Cardassay.Agent.CapacityProof;

/// <summary>
/// Writes every block in ascending order, flushes, and only then reads every block. The data cannot be compressed, so a card that gives
/// all of it back has the room: no cache smaller than the card can hide anything. Goes on from a checkpoint of an earlier
/// attempt. Destroys what is in the range.
/// </summary>
internal sealed class FullProof
{
    private readonly FullOptions _options;
    private readonly ProofContext _context;
    private readonly CancellationToken _cancellation;
    private readonly ProofRate _rate;
    private readonly ProofTroubles _troubles;
    private readonly ProofMeasured? _resumed;
    private readonly Cardassay.Trials.Conditions _before;
    private readonly ulong _nonce;
    private readonly long _coveredBytes;
    private readonly Overlap _overlap;
    private AddressTally _tally = new();
    private ProofIo _io;
    private IBlockTarget _target;
    private long _writtenBytes;
    private long _readBytes;
    private long _evictedFromBytes;
    private long _evictedBytes;
    private long _rightOnceEvicting;
    private long _earlierRepeats;
    private long _earlierWriteErrors;
    private long _readAgainBlocks;
    private long _writtenAgainBlocks;
    private long _cameRightBlocks;
    private TimeSpan? _readAgainAfter;
    private bool _putInAgain;
    private int _parts;

    private FullProof(
        IBlockTarget target, FullOptions options, ProofMeasured? resumed, ProofContext context, CancellationToken cancellation)
    {
        _target = target;
        _options = options;
        _context = context;
        _cancellation = cancellation;
        _rate = new ProofRate(context);
        _troubles = new ProofTroubles(context);
        _io = new ProofIo(target, context, _troubles, cancellation);
        _coveredBytes = target.SizeBytes;
        _resumed = resumed;
        _nonce = resumed?.Nonce ?? SplitSeed.NonceOf(context.Seed);
        _before = context.Conditions?.Sample() ?? new();
        _overlap = new Overlap(options.TransferBytes);
        if (resumed is not null)
        {
            _writtenBytes = resumed.WrittenThroughBytes;
            _readBytes = resumed.ReadThroughBytes;
            _tally.Restore(resumed);
            _earlierRepeats = resumed.Repeats;
            _earlierWriteErrors = resumed.WriteErrors;
            _putInAgain = resumed.PutInAgain;
        }
    }

    /// <summary>Bytes a full proof writes: the range, and once more what pushes its end out of a cache.</summary>
    public static long PlannedBytes(long sizeBytes, FullOptions options) =>
        sizeBytes + (options.Kind == ProofKind.Full ? Math.Min(options.EvictionBytes, sizeBytes / 2) : 0);

    /// <summary>Runs it to its end, or to where it was stopped.</summary>
    /// <param name="target">What is proven; the caller disposes it.</param>
    /// <param name="options">Sizes.</param>
    /// <param name="resumed">Checkpoint of an earlier attempt on the same card, or null.</param>
    /// <param name="context">What surrounds it.</param>
    /// <param name="cancellation">Ends it at the next transfer; the checkpoints stay good.</param>
    public static ProofEnd Run(
        IBlockTarget target, FullOptions options, ProofMeasured? resumed, ProofContext context, CancellationToken cancellation)
    {
        var proof = new FullProof(target, options, resumed, context, cancellation);
        try
        {
            proof.Write();
            proof.Change(options.Between);
            proof.Read();
            proof.ReadTopAgain();
            proof.Settle();
            return new ProofEnd(proof.Record(isComplete: true), RunOutcome.Completed, null);
        }
        catch (ProofStop stop)
        {
            return new ProofEnd(proof.Record(isComplete: false), stop.Outcome, stop.Message);
        }
        catch (OperationCanceledException)
        {
            return new ProofEnd(proof.Record(isComplete: false), RunOutcome.Cancelled,
                "It was stopped; the same command goes on from the last checkpoint.");
        }
        finally
        {
            proof._overlap.Dispose();
            proof._io.Dispose();
        }
    }

    private unsafe void Write()
    {
        while (_writtenBytes < _coveredBytes)
        {
            long end = Math.Min(_coveredBytes, _writtenBytes + _options.CheckpointBytes);
            _overlap.Run(_writtenBytes, end, Generate, slot =>
            {
                _io.Write(slot.OffsetBytes, slot.Buffer.Address, slot.LengthBytes);
                Tell("writing", slot.OffsetBytes + slot.LengthBytes);
            });
            _io.Flush();
            _writtenBytes = end;
            Checkpoint();
        }
    }

    private unsafe void Generate(OverlapSlot slot)
    {
        byte* data = (byte*)slot.Buffer.Address;
        for (int at = 0; at < slot.LengthBytes; at += SectorTag.BlockBytes)
        {
            SectorTag.Write(data + at, slot.OffsetBytes + at, _nonce);
        }
    }

    private void Change(Func<IBlockTarget, CancellationToken, IBlockTarget>? between)
    {
        if (between is null || _readBytes > 0)
        {
            return;
        }

        IBlockTarget again = between(_target, _cancellation);
        if (again != _target)
        {
            _earlierRepeats += _io.Repeats;
            _earlierWriteErrors += _io.WriteErrors;
            _target = again;
            IReadOnlyList<BlockRun> refused = _io.TakeRefused();
            _io.Dispose();
            _io = new ProofIo(again, _context, _troubles, _cancellation);
            _io.Remember(refused);
            _putInAgain = true;
        }
    }

    private unsafe void Read()
    {
        using var back = new ReadBack(_io);
        while (_readBytes < _coveredBytes)
        {
            long end = Math.Min(_coveredBytes, _readBytes + _options.CheckpointBytes);
            _overlap.Run(
                _readBytes,
                end,
                slot => slot.Errno = _io.Read(slot.OffsetBytes, slot.Buffer.Address, slot.LengthBytes),
                slot =>
                {
                    back.Check((byte*)slot.Buffer.Address, slot.OffsetBytes, slot.LengthBytes, slot.Errno, _nonce, Note);
                    _readBytes = slot.OffsetBytes + slot.LengthBytes;
                    Tell("reading", _coveredBytes + _readBytes);
                });
            Checkpoint();
        }
    }

    /// <summary>
    /// The last writes may still sit in a controller's cache, which flushing does not empty. They are pushed out by writing what lies
    /// below them once more, and read again.
    /// </summary>
    private unsafe void ReadTopAgain()
    {
        long bytes = Math.Min(_options.EvictionBytes, _coveredBytes / 2);
        bytes -= bytes % SectorTag.BlockBytes;
        if (bytes == 0 || _options.Kind != ProofKind.Full || _putInAgain || PeriodBytes() is not null)
        {
            return;
        }

        // Only what was kept can turn out otherwise; what was lost was lost already.
        ProofRange last = _tally.Map.UpTo(_coveredBytes)[^1];
        if (last.State != BlockState.Kept)
        {
            return;
        }

        // Right below what was kept: a cache that holds only addresses without storage is pushed out by such addresses alone.
        long from = Math.Max(_coveredBytes - bytes, last.StartBytes);
        long evictFrom = Math.Max(0, from - bytes);
        _overlap.Run(evictFrom, from, Generate, slot => _io.Write(slot.OffsetBytes, slot.Buffer.Address, slot.LengthBytes));
        _io.Flush();
        (_evictedFromBytes, _evictedBytes) = (evictFrom, from - evictFrom);
        _tally.TakeBackKept(from, _coveredBytes);
        using var back = new ReadBack(_io);
        _overlap.Run(
            from,
            _coveredBytes,
            slot => slot.Errno = _io.Read(slot.OffsetBytes, slot.Buffer.Address, slot.LengthBytes),
            slot => back.Check((byte*)slot.Buffer.Address, slot.OffsetBytes, slot.LengthBytes, slot.Errno, _nonce, Note));
    }

    /// <summary>Reads every stretch in which a block was wrong once more, after a pause, and tallies all of it anew.</summary>
    private void Settle()
    {
        var settled = new AddressTally();
        using var back = new ReadBack(_io);
        using var closing = new ClosingPass(_io, back, _context, _nonce) { WasOutOfSlot = _putInAgain };
        long suspects =
            _coveredBytes - _tally.Map.UpTo(_coveredBytes).Where(r => r.State == BlockState.Kept).Sum(r => r.EndBytes - r.StartBytes);
        closing.Run(
            Suspects(settled),
            (offset, judged) =>
            {
                settled.Note(offset, judged);

                // Written once more against the cache, which may answer for it now: that does not show that the card has a place for it.
                bool isRewritten = offset >= _evictedFromBytes && offset < _evictedFromBytes + _evictedBytes
                    && !closing.IsWrittenAgain(offset / SectorTag.BlockBytes);
                _rightOnceEvicting += judged.IsKept && isRewritten ? 1 : 0;
            },
            done => _rate.Tell("reading again", done, suspects / SectorTag.BlockBytes, 0));
        (_readAgainBlocks, _writtenAgainBlocks, _readAgainAfter) = (closing.ReadAgain, closing.WrittenAgain, closing.After);
        _cameRightBlocks = settled.Counts.Kept - _tally.Counts.Kept;
        _tally = settled;
    }

    /// <summary>The stretches that are to be read again; what lies between them is taken over on the way.</summary>
    private IEnumerable<BlockRun> Suspects(AddressTally settled)
    {
        foreach (ProofRange range in _tally.Map.UpTo(_coveredBytes))
        {
            if (range.State == BlockState.Kept)
            {
                settled.NoteKept(range);
                continue;
            }

            for (long at = range.StartBytes; at < range.EndBytes; at += _options.TransferBytes)
            {
                long length = Math.Min(_options.TransferBytes, range.EndBytes - at);
                yield return new BlockRun(at / SectorTag.BlockBytes, length / SectorTag.BlockBytes);
            }
        }
    }

    private void Note(long offsetBytes, JudgedBlock judged) => _tally.Note(offsetBytes, judged);

    private void Tell(string phase, long doneBytes) => _rate.Tell(
        phase, doneBytes / SectorTag.BlockBytes, 2 * _coveredBytes / SectorTag.BlockBytes, _tally.Counts.Kept * SectorTag.BlockBytes,
        () => LiveMap.Draw(_coveredBytes, Math.Min(doneBytes, _coveredBytes), _readBytes, _tally.Map.UpTo(_coveredBytes)));

    private void Checkpoint()
    {
        if (_context.CardWatch?.WhatChanged() is { } changed)
        {
            throw new ProofStop(RunOutcome.Interrupted, changed);
        }

        _context.Observer.OnCheckpoint(Record(isComplete: false));
    }

    private ProofMeasured Record(bool isComplete)
    {
        BlockCounts counts = _tally.Counts;
        ProofLedger ledger = _tally.Ledger;
        long? period = isComplete ? PeriodBytes() : null;
        ProofFinding finding = isComplete ? FindingOfProof.Of(counts, _tally.IsInStretches, period) : ProofFinding.Unknown;
        Cardassay.Trials.Conditions after = _context.Conditions?.Sample() ?? new();
        RangeMap map = _tally.Map;
        if (period is not null)
        {
            map = new RangeMap();
            ProbedRanges.Fill(map, [], _coveredBytes, period);
        }

        return new ProofMeasured
        {
            RunId = _context.RunId,
            Part = ++_parts,
            Complete = isComplete,
            Kind = _options.Kind,
            ClaimedBytes = _context.ClaimedBytes,
            CoveredBytes = _coveredBytes,
            Finding = finding,
            TrueBytes = !isComplete || counts.Lost == 0 || _options.Kind != ProofKind.Full ? null
                : period
                    ?? (_tally.IsOneStretch && counts.Wrapped == 0 && _rightOnceEvicting == 0 ? counts.Kept * SectorTag.BlockBytes : null),
            BlocksWritten = _writtenBytes / SectorTag.BlockBytes,
            BlocksRead = _readBytes / SectorTag.BlockBytes,
            Counts = counts,
            Ranges = map.UpTo(_coveredBytes),
            RangeGrainBytes = map.GrainBytes,
            LostBlocks = ledger.Examples,
            AliasStepBytes = ledger.AliasStepSectors * SectorTag.SectorBytes,
            EvictionBlocks = _evictedBytes / SectorTag.BlockBytes,
            Repeats = _earlierRepeats + _io.Repeats,
            WriteErrors = _earlierWriteErrors + _io.WriteErrors,
            LinkSuspectBlocks = ledger.LinkSuspects,
            RefusedBlocks = ledger.Refused,
            AwayBlocks = ledger.Away,
            KeepsAtLeastBytes = Math.Max(0, counts.Kept - _writtenAgainBlocks - _rightOnceEvicting) * SectorTag.BlockBytes,
            LostToEndFromBytes = _tally.LostFromBytes,
            ReadAgainBlocks = _readAgainBlocks,
            ReadAgainAfterNs = (long?)_readAgainAfter?.TotalNanoseconds,
            CameRightBlocks = _cameRightBlocks,
            Absences = _troubles.Absences + (_resumed?.Absences ?? 0),
            AwayNs = (long)_troubles.Away.TotalNanoseconds + (_resumed?.AwayNs ?? 0),
            Troubles = _troubles.All,
            LinkErrors = after.LinkErrors - _before.LinkErrors + (_resumed is null ? 0 : _resumed.LinkErrors),
            Seed = _context.Seed,
            Nonce = _nonce,
            WrittenThroughBytes = _writtenBytes,
            ReadThroughBytes = _readBytes,
            ResumedAtBytes = _resumed is null
                ? null
                : _resumed.ResumedAtBytes ?? (_resumed.WrittenThroughBytes + _resumed.ReadThroughBytes),
            PutInAgain = _putInAgain,
            WriteNs = (_resumed?.WriteNs ?? 0) + _rate.NsOf("writing"),
            ReadNs = (_resumed?.ReadNs ?? 0) + _rate.NsOf("reading"),
            Remarks = ProofRemarks.Of(_options.Kind == ProofKind.Full ? _context.ClaimedBytes - _coveredBytes : 0, _io, _context),
            Before = _before,
            After = after,
        };
    }

    /// <summary>
    /// The period of a card that takes addresses modulo it, else null. Written in ascending order such a card keeps the last period, and
    /// every block before holds the content of one a whole number of periods away. A cache may keep some more.
    /// </summary>
    private long? PeriodBytes()
    {
        long step = _tally.Ledger.AliasStepSectors * SectorTag.SectorBytes;
        IReadOnlyList<ProofRange> ranges = _tally.Map.UpTo(_coveredBytes);
        if (step == 0 || ranges[^1].State != BlockState.Kept)
        {
            return null;
        }

        const long Seam = 2 * SectorTag.BlockBytes;
        long keptAtEnd = ranges[^1].EndBytes - ranges[^1].StartBytes;
        BlockCounts counts = _tally.Counts;

        // Pieces of two blocks without a whole tag are found only where blocks land across block boundaries, at most two for each period.
        long withoutName = step % SectorTag.BlockBytes == 0 ? 0 : 2 * ((_coveredBytes / step) + 1);
        return (counts.Kept * SectorTag.BlockBytes) - keptAtEnd <= Seam && keptAtEnd >= step - Seam
            && counts.NotJudged == 0 && counts.Lost - counts.Wrapped <= withoutName ? step : null;
    }
}
