using Cardassay.Agent.BlockIo;
using Cardassay.Trials;

namespace Cardassay.Agent.CapacityProof;

/// <summary>
/// Settles what was wrong at the first reading: after a pause of seconds writes once more what was refused, and reads every wrong
/// block again, asking the host for its link errors around each reading. Only what is wrong again without the link, an absence or a
/// refused write to blame is lost.
/// </summary>
internal sealed unsafe class ClosingPass(ProofIo io, ReadBack back, ProofContext context, ulong nonce) : IDisposable
{
    /// <summary>
    /// Longer than the outages a link or a reader recovers from by itself, which take a second or two (common practice, no source).
    /// </summary>
    public static readonly TimeSpan Pause = TimeSpan.FromSeconds(5);

    /// <summary>
    /// A link that turns a bit in one of a hundred readings, without the host counting it, does so this often in a row once in 10^10; two
    /// readings are too few where thousands of blocks of honest cards are read.
    /// </summary>
    private const int ReadingsOfChangedBits = 5;

    /// <summary>
    /// After so many blocks that came with changed bits each time, the card is to blame, and reading
    /// each so often would take hours.
    /// </summary>
    private const int ChangedBlocksRead = 1000;

    private const int TransferBlocks = (1 << 20) / SectorTag.BlockBytes;

    private readonly AlignedBuffer _buffer = new(TransferBlocks * SectorTag.BlockBytes);
    private readonly BlockRanges _refused = new();
    private readonly BlockRanges _writtenAgain = new();
    private long? _linkErrors;
    private int _changedBlocks;

    /// <summary>Blocks read again.</summary>
    public long ReadAgain { get; private set; }

    /// <summary>Blocks that were written again; they do not count as kept while all was outstanding.</summary>
    public long WrittenAgain { get; private set; }

    /// <summary>True of a block that was written again, or was to be.</summary>
    public bool IsWrittenAgain(long block) => _writtenAgain.Contains(block);

    /// <summary>
    /// Time between the first reading of the last wrong block and the first reading here; null when there was nothing to settle.
    /// </summary>
    public TimeSpan? After { get; private set; }

    /// <summary>Foreign content is nobody's fault once the card was out of its slot.</summary>
    public bool WasOutOfSlot { get; init; }

    /// <summary>Settles the wrong ones among some blocks.</summary>
    /// <param name="suspects">Transfers in which a block was wrong, of 1 MiB at most.</param>
    /// <param name="told">Told every block of these, in the same order.</param>
    /// <param name="progress">Told how many blocks are done.</param>
    public void Run(IEnumerable<BlockRun> suspects, Action<long, JudgedBlock> told, Action<long>? progress = null)
    {
        IReadOnlyList<BlockRun> refused = io.TakeRefused();
        using IEnumerator<BlockRun> next = suspects.GetEnumerator();
        if (!next.MoveNext() && refused.Count == 0)
        {
            return;
        }

        long began = context.Time.GetTimestamp();
        context.Pause(Pause, io.Cancellation);
        io.Cancellation.ThrowIfCancellationRequested();
        After = context.Time.GetElapsedTime(began) is var measured && measured > Pause ? measured : Pause;
        Rewrite(refused);
        _linkErrors = context.Conditions?.Sample().LinkErrors;
        if (next.Current.Count == 0)
        {
            return;
        }

        do
        {
            Settle(next.Current, told);
            progress?.Invoke(ReadAgain);
        }
        while (next.MoveNext());
    }

    public void Dispose() => _buffer.Dispose();

    private void Rewrite(IReadOnlyList<BlockRun> refused)
    {
        byte* data = (byte*)_buffer.Address;
        foreach (BlockRun run in refused)
        {
            _writtenAgain.Add(run);
            for (long block = run.Start; block < run.End; block++)
            {
                long offset = block * SectorTag.BlockBytes;
                SectorTag.Write(data, offset, nonce);
                io.Write(offset, _buffer.Address, SectorTag.BlockBytes);
                WrittenAgain++;
            }
        }

        if (refused.Count > 0)
        {
            io.Flush();
            foreach (BlockRun run in io.TakeRefused())
            {
                _refused.Add(run);
                WrittenAgain -= run.Count;
            }
        }
    }

    private void Settle(BlockRun run, Action<long, JudgedBlock> told)
    {
        long start = run.Start * SectorTag.BlockBytes;
        int length = (int)run.Count * SectorTag.BlockBytes;
        int errno = io.Read(start, _buffer.Address, length);
        List<(long Offset, JudgedBlock Judged)> found = [];
        back.Check((byte*)_buffer.Address, start, length, errno, nonce, (offset, judged) => found.Add((offset, judged)));
        ReadAgain += run.Count;

        // Errors counted over the whole transfer may belong to any of its blocks: each wrong one is then read alone.
        bool erred = found.Exists(f => f.Judged.IsLost) && HasErred();
        foreach ((long offset, JudgedBlock judged) in found)
        {
            told(offset, judged.IsLost ? Final(offset, judged, erred) : judged);
        }
    }

    private JudgedBlock Final(long offset, JudgedBlock judged, bool erred)
    {
        if (_refused.Contains(offset / SectorTag.BlockBytes))
        {
            return JudgedBlock.NotJudged(NotJudgedReason.Refused);
        }

        if (io.AgainstWriteOf(offset / SectorTag.BlockBytes) is { } reason)
        {
            return JudgedBlock.NotJudged(reason);
        }

        if (erred)
        {
            judged = back.ReadOne(offset, nonce);
            if (judged.IsLost && HasErred())
            {
                return JudgedBlock.NotJudged(NotJudgedReason.LinkErred);
            }
        }

        for (int readings = 2;
            judged.State == BlockState.Decayed && readings < ReadingsOfChangedBits && _changedBlocks < ChangedBlocksRead; readings++)
        {
            judged = back.ReadOne(offset, nonce);
        }

        _changedBlocks += judged.State == BlockState.Decayed ? 1 : 0;
        bool isForeign = judged.State == BlockState.Constant || judged is { State: BlockState.Dropped, FoundValue: 0 };
        return WasOutOfSlot && isForeign ? JudgedBlock.NotJudged(NotJudgedReason.WasAway) : judged;
    }

    /// <summary>True when the bus has counted errors since the last question.</summary>
    private bool HasErred()
    {
        if (_linkErrors is not { } before)
        {
            return false;
        }

        _linkErrors = context.Conditions?.Sample().LinkErrors ?? before;
        return _linkErrors > before;
    }
}
