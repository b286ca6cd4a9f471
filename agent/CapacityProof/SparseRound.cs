using Cardassay.Agent.BlockIo;

namespace Cardassay.Agent.CapacityProof;

/// <summary>
/// One round of probing: writes single blocks, then runs of blocks, flushes, evicts, flushes, and reads in the order of
/// writing, the oldest first.
/// </summary>
internal sealed unsafe class SparseRound(ProofIo io, ReadBack back, long blocks, long evictionBlocks, ulong nonce, Action<string, long, long> progress)
    : IDisposable
{
    private readonly AlignedBuffer _buffer = new(Eviction.WriteBlocks * SectorTag.BlockBytes);

    /// <summary>Blocks written to push the probes out.</summary>
    public long Evicted { get; private set; }

    /// <summary>Blocks written as probes.</summary>
    public long Written { get; private set; }

    /// <summary>What became of each probe, ascending.</summary>
    public SortedDictionary<long, JudgedBlock> Run(IReadOnlyList<long> singles, IReadOnlyList<BlockRun> runs)
    {
        long probes = singles.Count + runs.Sum(r => r.Count);
        foreach (BlockRun write in Transfers(singles, runs))
        {
            Write(write);
            Written += write.Count;
            progress("writing", Written, probes);
        }

        io.Flush();
        BlockRun[] kept = Merged([.. singles.Select(b => new BlockRun(b, 1)), .. runs]);
        long toEvict = Math.Min(evictionBlocks, blocks - kept.Sum(k => k.Count));
        foreach (BlockRun write in Eviction.Writes(blocks, kept, evictionBlocks))
        {
            Write(write);
            Evicted += write.Count;
            progress("evicting", Evicted, toEvict);
        }

        io.Flush();
        var found = new SortedDictionary<long, JudgedBlock>();
        foreach (BlockRun read in Transfers(singles, runs))
        {
            long offset = read.Start * SectorTag.BlockBytes;
            int length = (int)read.Count * SectorTag.BlockBytes;
            int errno = io.Read(offset, _buffer.Address, length);
            back.Check((byte*)_buffer.Address, offset, length, errno, nonce, (at, judged) => found[at / SectorTag.BlockBytes] = judged);
            progress("reading", found.Count, probes);
        }

        return found;
    }

    public void Dispose() => _buffer.Dispose();

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
        runs.Sort((a, b) => a.Start.CompareTo(b.Start));
        var merged = new List<BlockRun>(runs.Count);
        foreach (BlockRun run in runs)
        {
            if (merged.Count > 0 && run.Start <= merged[^1].End)
            {
                merged[^1] = merged[^1] with { Count = Math.Max(merged[^1].End, run.End) - merged[^1].Start };
            }
            else
            {
                merged.Add(run);
            }
        }

        return [.. merged];
    }
}
