using Cardassay.Agent.BlockIo;
using Cardassay.Trials;

namespace Cardassay.Agent.CapacityProof;

/// <summary>
/// One round of probing: writes single blocks, then runs of blocks, flushes, evicts and fills, flushes, and reads in the order of
/// writing, the oldest first: all of it, so that everything read back right counts towards what the card keeps at the least. What was
/// wrong is settled by a closing pass.
/// </summary>
internal sealed unsafe class SparseRound(
    ProofIo io, ReadBack back, ProofContext context, long blocks, ulong nonce, Action<string, long, long, long> progress)
    : IDisposable
{
    private readonly AlignedBuffer _buffer = new(Eviction.WriteBlocks * SectorTag.BlockBytes);
    private readonly List<BlockRun> _filler = [];
    private readonly List<(BlockRun Run, bool IsFiller)> _suspects = [];
    private readonly List<(long Block, JudgedBlock Judged)> _judgedOfRun = [];
    private long _read;

    /// <summary>Blocks written between the probes.</summary>
    public long Evicted { get; private set; }

    /// <summary>Blocks written as probes.</summary>
    public long Written { get; private set; }

    /// <summary>Everything that was read, by outcome.</summary>
    public ProofLedger Ledger { get; } = new();

    /// <summary>Blocks read again in the closing pass.</summary>
    public long ReadAgain { get; private set; }

    /// <summary>Blocks that were wrong at first and right in the closing pass.</summary>
    public long CameRight { get; private set; }

    /// <summary>Blocks that do not count as kept while all was outstanding, because they were written once more.</summary>
    public long WrittenAgain { get; private set; }

    /// <summary>Pause before the closing pass; null when there was none.</summary>
    public TimeSpan? ReadAgainAfter { get; private set; }

    /// <summary>What became of each probe, ascending.</summary>
    public SortedDictionary<long, JudgedBlock> Found { get; } = [];

    /// <summary>
    /// What became of what was written between them; of a transfer with one outcome only first and last block. It was written last, so a
    /// controller's cache may still answer for it where the probes are long lost: it says less of where the losses lie.
    /// </summary>
    public SortedDictionary<long, JudgedBlock> FoundBetween { get; } = [];

    /// <summary>Goes through the round.</summary>
    /// <param name="singles">Single probes, in this order.</param>
    /// <param name="runs">Runs of probes, written after them.</param>
    /// <param name="evictionBlocks">Blocks to write between the probes.</param>
    /// <param name="fillFor">Goes on writing blocks all over until this says no; null does not.</param>
    /// <param name="readOn">Goes on reading what was filled until this says no.</param>
    /// <param name="readsEviction">Whether what was written between the probes is read back too.</param>
    public void Run(IReadOnlyList<long> singles, IReadOnlyList<BlockRun> runs, long evictionBlocks, Func<bool>? fillFor = null,
        Func<bool>? readOn = null, bool readsEviction = false)
    {
        long probes = singles.Count + runs.Sum(r => r.Count);
        foreach (BlockRun write in Transfers(singles, runs))
        {
            Write(write);
            Written += write.Count;
            progress("writing", Written, probes, 0);
        }

        io.Flush();
        BlockRun[] kept = Merged([.. singles.Select(b => new BlockRun(b, 1)), .. runs]);
        long toEvict = Math.Min(evictionBlocks, blocks - kept.Sum(k => k.Count));
        foreach (BlockRun write in Eviction.Writes(blocks, kept, evictionBlocks))
        {
            WriteFiller(write);
            progress("evicting", Evicted, toEvict, 0);
        }

        int evicting = _filler.Count;
        if (fillFor is not null)
        {
            foreach (BlockRun write in SpreadFiller.Writes(blocks, Merged([.. kept, .. _filler])).TakeWhile(_ => fillFor()))
            {
                WriteFiller(write);
                progress("filling", Evicted, blocks, 0);
            }
        }

        io.Flush();
        foreach (BlockRun read in Transfers(singles, runs))
        {
            Read(read, isFiller: false, probes + (readsEviction ? Evicted : 0));
        }

        for (int i = 0; readsEviction && i < _filler.Count && (i < evicting || readOn is null || readOn()); i++)
        {
            Read(_filler[i], isFiller: true, probes + Evicted);
        }

        Settle();
    }

    public void Dispose() => _buffer.Dispose();

    private void WriteFiller(BlockRun run)
    {
        Write(run);
        _filler.Add(run);
        Evicted += run.Count;
    }

    private void Read(BlockRun run, bool isFiller, long total)
    {
        long offset = run.Start * SectorTag.BlockBytes;
        int length = (int)run.Count * SectorTag.BlockBytes;
        int errno = io.Read(offset, _buffer.Address, length);
        _judgedOfRun.Clear();
        back.Check((byte*)_buffer.Address, offset, length, errno, nonce,
            (at, judged) => _judgedOfRun.Add((at / SectorTag.BlockBytes, judged)));
        if (_judgedOfRun.Exists(j => !j.Judged.IsKept))
        {
            _suspects.Add((run, isFiller));
            CameRight -= _judgedOfRun.Count(j => j.Judged.IsKept);
        }
        else
        {
            Accept(isFiller);
        }

        _read += run.Count;
        progress("reading", _read, total, Ledger.Counts.Kept * SectorTag.BlockBytes);
    }

    private void Settle()
    {
        using var closing = new ClosingPass(io, back, context, nonce);
        bool isFiller = false;
        _judgedOfRun.Clear();
        long before = Ledger.Counts.Kept;
        closing.Run(Next(), (at, judged) => _judgedOfRun.Add((at / SectorTag.BlockBytes, judged)),
            done => progress("reading again", done, _suspects.Sum(s => s.Run.Count), 0));
        (ReadAgain, WrittenAgain, ReadAgainAfter) = (closing.ReadAgain, closing.WrittenAgain, closing.After);
        CameRight += Ledger.Counts.Kept - before;

        IEnumerable<BlockRun> Next()
        {
            foreach ((BlockRun run, bool filler) in _suspects)
            {
                Accept(isFiller);
                isFiller = filler;
                yield return run;
            }

            Accept(isFiller);
        }
    }

    /// <summary>Takes the blocks of a transfer as they were judged.</summary>
    private void Accept(bool isFiller)
    {
        foreach ((long block, JudgedBlock judged) in _judgedOfRun)
        {
            Ledger.Add(block * SectorTag.BlockBytes, judged);
        }

        // A map shows stretches between equal neighbours alike: the ends are enough, and gigabytes of filler take no room.
        bool isOne = isFiller && _judgedOfRun.TrueForAll(j => j.Judged.State == _judgedOfRun[0].Judged.State);
        foreach ((long block, JudgedBlock judged) in isOne && _judgedOfRun.Count > 1 ? [_judgedOfRun[0], _judgedOfRun[^1]] : _judgedOfRun)
        {
            (isFiller ? FoundBetween : Found)[block] = judged;
        }

        _judgedOfRun.Clear();
    }

    private void Write(BlockRun run)
    {
        byte* data = (byte*)_buffer.Address;
        for (int i = 0; i < run.Count; i++)
        {
            SectorTag.Write(data + (i * SectorTag.BlockBytes), (run.Start + i) * SectorTag.BlockBytes, nonce);
        }

        io.Write(run.Start * SectorTag.BlockBytes, _buffer.Address, (int)run.Count * SectorTag.BlockBytes);
    }

    private static IEnumerable<BlockRun> Transfers(IReadOnlyList<long> singles, IReadOnlyList<BlockRun> runs)
    {
        foreach (long block in singles)
        {
            yield return new BlockRun(block, 1);
        }

        foreach (BlockRun run in runs)
        {
            for (long start = run.Start; start < run.End; start += Eviction.WriteBlocks)
            {
                yield return new BlockRun(start, Math.Min(Eviction.WriteBlocks, run.End - start));
            }
        }
    }

    private static BlockRun[] Merged(List<BlockRun> runs)
    {
        var merged = new BlockRanges();
        foreach (BlockRun run in runs)
        {
            merged.Add(run);
        }

        return [.. merged.Runs];
    }
}
