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
    /// <summary>Shorter lost stretches, on average, count as single blocks.</summary>
    private const int StretchBlocks = 16;

    private readonly FullOptions _options;
    private readonly ProofContext _context;
    private readonly CancellationToken _cancellation;
    private readonly ProofRate _rate;
    private readonly ProofLedger _ledger = new();
    private readonly RangeMap _map = new();
    private readonly ProofMeasured? _resumed;
    private readonly Cardassay.Trials.Conditions _before;
    private readonly ulong _nonce;
    private readonly long _coveredBytes;
    private readonly Overlap _overlap;
    private ProofIo _io;
    private IBlockTarget _target;
    private long _writtenBytes;
    private long _readBytes;
    private long _linkSuspects;
    private long _evictedBytes;
    private long _lostRuns;
    private long _earlierRepeats;
    private long _earlierWriteErrors;
    private bool _wasKept = true;
    private bool _putInAgain;
    private int _parts;

    private FullProof(IBlockTarget target, FullOptions options, ProofMeasured? resumed, ProofContext context, CancellationToken cancellation)
    {
        _target = target;
        _options = options;
        _context = context;
        _cancellation = cancellation;
        _rate = new ProofRate(context);
        _io = new ProofIo(target, cancellation);
        _coveredBytes = target.SizeBytes;
        _resumed = resumed;
        _nonce = resumed?.Nonce ?? SplitSeed.NonceOf(context.Seed);
        _before = context.Conditions?.Sample() ?? new();
        _overlap = new Overlap(options.TransferBytes);
        if (resumed is not null)
        {
            _writtenBytes = resumed.WrittenThroughBytes;
            _readBytes = resumed.ReadThroughBytes;
            _ledger.Restore(resumed);
            _map.Restore(resumed.Ranges, resumed.RangeGrainBytes);
            _earlierRepeats = resumed.Repeats;
            _earlierWriteErrors = resumed.WriteErrors;
            _linkSuspects = resumed.LinkSuspectBlocks;
            _putInAgain = resumed.PutInAgain;
            _lostRuns = resumed.Ranges.Count(r => r.State != BlockState.Kept);
            _wasKept = resumed.Ranges.Count == 0 || resumed.Ranges[^1].State == BlockState.Kept;
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
    public static ProofEnd Run(IBlockTarget target, FullOptions options, ProofMeasured? resumed, ProofContext context, CancellationToken cancellation)
    {
        var proof = new FullProof(target, options, resumed, context, cancellation);
        try
        {
            proof.Write();
            proof.Change(options.Between);
            proof.Read();
            proof.ReadTopAgain();
            return new ProofEnd(proof.Record(isComplete: true), RunOutcome.Completed, null);
        }
        catch (ProofStop stop)
        {
            return new ProofEnd(proof.Record(isComplete: false), stop.Outcome, stop.Message);
        }
        catch (OperationCanceledException)
        {
            return new ProofEnd(proof.Record(isComplete: false), RunOutcome.Cancelled, "It was stopped; the same command goes on from the last checkpoint.");
        }
        finally
        {
            proof._overlap.Dispose();
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
            _io = new ProofIo(again, _cancellation);
            _putInAgain = true;
        }
    }

    private unsafe void Read()
    {
        using var back = new ReadBack(_io, () => _context.Conditions?.Sample().LinkErrors);
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
            _linkSuspects = (_resumed?.LinkSuspectBlocks ?? 0) + back.LinkSuspects;
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
        ProofRange last = _map.UpTo(_coveredBytes)[^1];
        if (last.State != BlockState.Kept)
        {
            return;
        }

        // Right below what was kept: a cache that holds only addresses without storage is pushed out by such addresses alone.
        long from = Math.Max(_coveredBytes - bytes, last.StartBytes);
        long evictFrom = Math.Max(0, from - bytes);
        _overlap.Run(evictFrom, from, Generate, slot => _io.Write(slot.OffsetBytes, slot.Buffer.Address, slot.LengthBytes));
        _io.Flush();
        _evictedBytes = from - evictFrom;
        _ledger.TakeBackKept((_coveredBytes - from) / SectorTag.BlockBytes);
        _map.CutFrom(from);
        _wasKept = last.StartBytes < from || from == 0;
        using var back = new ReadBack(_io, () => _context.Conditions?.Sample().LinkErrors);
        _overlap.Run(
            from,
            _coveredBytes,
            slot => slot.Errno = _io.Read(slot.OffsetBytes, slot.Buffer.Address, slot.LengthBytes),
            slot => back.Check((byte*)slot.Buffer.Address, slot.OffsetBytes, slot.LengthBytes, slot.Errno, _nonce, Note));
        _linkSuspects += back.LinkSuspects;
    }

    private void Note(long offsetBytes, JudgedBlock judged)
    {
        _ledger.Add(offsetBytes, judged);
        _map.Add(offsetBytes, offsetBytes + SectorTag.BlockBytes, judged.State);
        _lostRuns += _wasKept && !judged.IsKept ? 1 : 0;
        _wasKept = judged.IsKept;
    }

    private void Tell(string phase, long doneBytes) => _rate.Tell(
        phase, doneBytes / SectorTag.BlockBytes, 2 * _coveredBytes / SectorTag.BlockBytes,
        () => LiveMap.Draw(_coveredBytes, Math.Min(doneBytes, _coveredBytes), _readBytes, _map.UpTo(_coveredBytes)));

    private void Checkpoint()
    {
        if (_context.CardWatch?.WhatChanged() is { } changed && !_putInAgain)
        {
            throw new ProofStop(RunOutcome.Interrupted, changed);
        }

        _context.Observer.OnCheckpoint(Record(isComplete: false));
    }

    private ProofMeasured Record(bool isComplete)
    {
        BlockCounts counts = _ledger.Counts;
        long? period = isComplete ? PeriodBytes() : null;
        ProofFinding finding = isComplete ? FindingOfProof.Of(counts, IsInStretches(counts), period) : ProofFinding.Unknown;
        Cardassay.Trials.Conditions after = _context.Conditions?.Sample() ?? new();
        var map = _map;
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
                : period ?? (counts.Kept * SectorTag.BlockBytes),
            BlocksWritten = _writtenBytes / SectorTag.BlockBytes,
            BlocksRead = _readBytes / SectorTag.BlockBytes,
            Counts = counts,
            Ranges = map.UpTo(_coveredBytes),
            RangeGrainBytes = map.GrainBytes,
            LostBlocks = _ledger.Examples,
            AliasStepBytes = _ledger.AliasStepSectors * SectorTag.SectorBytes,
            EvictionBlocks = _evictedBytes / SectorTag.BlockBytes,
            Repeats = _earlierRepeats + _io.Repeats,
            WriteErrors = _earlierWriteErrors + _io.WriteErrors,
            LinkSuspectBlocks = _linkSuspects,
            LinkErrors = after.LinkErrors - _before.LinkErrors + (_resumed is null ? 0 : _resumed.LinkErrors),
            Seed = _context.Seed,
            Nonce = _nonce,
            WrittenThroughBytes = _writtenBytes,
            ReadThroughBytes = _readBytes,
            ResumedAtBytes = _resumed is null ? null : _resumed.ResumedAtBytes ?? (_resumed.WrittenThroughBytes + _resumed.ReadThroughBytes),
            PutInAgain = _putInAgain,
            WriteNs = (_resumed?.WriteNs ?? 0) + _rate.NsOf("writing"),
            ReadNs = (_resumed?.ReadNs ?? 0) + _rate.NsOf("reading"),
            Remarks = ProofRemarks.Of(_options.Kind == ProofKind.Full ? _context.ClaimedBytes - _coveredBytes : 0, _io, _context),
            Before = _before,
            After = after,
        };
    }

    private bool IsInStretches(BlockCounts counts) => !_wasKept || counts.Lost >= StretchBlocks * _lostRuns;

    /// <summary>
    /// The period of a card that takes addresses modulo it, else null. Written in ascending order such a card keeps the last period, and
    /// every block before holds the content of one a whole number of periods away. A cache may keep some more.
    /// </summary>
    private long? PeriodBytes()
    {
        long step = _ledger.AliasStepSectors * SectorTag.SectorBytes;
        IReadOnlyList<ProofRange> ranges = _map.UpTo(_coveredBytes);
        if (step == 0 || ranges[^1].State != BlockState.Kept)
        {
            return null;
        }

        const long Seam = 2 * SectorTag.BlockBytes;
        long keptAtEnd = ranges[^1].EndBytes - ranges[^1].StartBytes;
        BlockCounts counts = _ledger.Counts;

        // Pieces of two blocks without a whole tag are found only where blocks land across block boundaries, at most two for each period.
        long withoutName = step % SectorTag.BlockBytes == 0 ? 0 : 2 * ((_coveredBytes / step) + 1);
        return (counts.Kept * SectorTag.BlockBytes) - keptAtEnd <= Seam && keptAtEnd >= step - Seam
            && counts.Lost - counts.Wrapped <= withoutName ? step : null;
    }
}
