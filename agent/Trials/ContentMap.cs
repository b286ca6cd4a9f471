using System.Runtime.CompilerServices;

namespace Cardassay.Agent.Trials;

/// <summary>
/// Knows for every 4,096-byte block of the target in which pass of this run it was last written. Ranges nobody touched cost nothing,
/// ranges written in one pass one number per 64 MiB, others 2 bytes per block; a trial's range is opened before it starts, so that
/// marking allocates nothing. Slots that write mark different blocks, never the same one at once. It knows too which blocks nobody has
/// read since they were written: the first read of a block may cost a card more than every later one (common practice, no source).
/// </summary>
internal sealed class ContentMap
{
    private const int BlockShift = 12;
    private const int SegmentShift = 14;
    private const int SegmentBlocks = 1 << SegmentShift;

    /// <summary>Stands in a mark beside its pass: not read since it was written.</summary>
    private const ushort Unread = 0x8000;

    private readonly List<ulong> _nonces = [0];
    private readonly ushort[] _uniform;
    private readonly ushort[]?[] _blocks;
    private readonly long _blockCount;
    private ulong[] _nonceOf = [0];

    public ContentMap(long sizeBytes)
    {
        _blockCount = sizeBytes >> BlockShift;
        long segments = (_blockCount + SegmentBlocks - 1) >> SegmentShift;
        _uniform = new ushort[segments];
        _blocks = new ushort[segments][];
    }

    /// <summary>Starts a pass and returns the mark of its blocks; 0 is the mark of unknown content.</summary>
    public ushort BeginPass(ulong nonce)
    {
        if (_nonces.Count >= Unread)
        {
            throw new InvalidOperationException("A run has more passes than the content map can tell apart.");
        }

        _nonces.Add(nonce);
        _nonceOf = [.. _nonces];
        return (ushort)(_nonces.Count - 1);
    }

    /// <summary>Makes room for marks block by block.</summary>
    public void Open(long startBytes, long lengthBytes)
    {
        for (long segment = startBytes >> BlockShift >> SegmentShift;
            segment <= (startBytes + lengthBytes - 1) >> BlockShift >> SegmentShift; segment++)
        {
            if (_blocks[segment] is null)
            {
                _blocks[segment] = new ushort[SegmentBlocks];
                Array.Fill(_blocks[segment]!, _uniform[segment]);
            }
        }
    }

    /// <summary>Gives back the room of segments that hold one mark only.</summary>
    public void Compact()
    {
        for (int segment = 0; segment < _blocks.Length; segment++)
        {
            if (_blocks[segment] is { } blocks
                && blocks.AsSpan(0, (int)Math.Min(SegmentBlocks, _blockCount - ((long)segment << SegmentShift)))
                    .IndexOfAnyExcept(blocks[0]) < 0)
            {
                _uniform[segment] = blocks[0];
                _blocks[segment] = null;
            }
        }
    }

    /// <summary>Makes room, block by block, where a range holds what nobody has read yet.</summary>
    public void OpenUnread(long startBytes, long lengthBytes)
    {
        for (long segment = startBytes >> BlockShift >> SegmentShift;
            segment <= (startBytes + lengthBytes - 1) >> BlockShift >> SegmentShift; segment++)
        {
            if (_blocks[segment] is null && (_uniform[segment] & Unread) != 0)
            {
                Open(segment << SegmentShift << BlockShift, 1);
            }
        }
    }

    /// <summary>Marks the blocks of an opened range as written in a pass and not read since; pass 0 as unknown.</summary>
    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public void Mark(long offsetBytes, int lengthBytes, ushort pass)
    {
        ushort mark = pass == 0 ? (ushort)0 : (ushort)(pass | Unread);
        long end = (offsetBytes + lengthBytes) >> BlockShift;
        for (long block = offsetBytes >> BlockShift; block < end; block++)
        {
            _blocks[block >> SegmentShift]![block & (SegmentBlocks - 1)] = mark;
        }
    }

    /// <summary>Marks blocks as read, in a range of which <see cref="OpenUnread"/> was told.</summary>
    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public void MarkRead(long offsetBytes, int lengthBytes)
    {
        long end = (offsetBytes + lengthBytes) >> BlockShift;
        for (long block = offsetBytes >> BlockShift; block < end; block++)
        {
            if (_blocks[block >> SegmentShift] is { } marks && (marks[block & (SegmentBlocks - 1)] & Unread) != 0)
            {
                marks[block & (SegmentBlocks - 1)] &= unchecked((ushort)~Unread);
            }
        }
    }

    /// <summary>True when any block of an operation was not read since this run wrote it.</summary>
    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public bool IsUnread(long offsetBytes, int lengthBytes)
    {
        long end = (offsetBytes + lengthBytes) >> BlockShift;
        for (long block = offsetBytes >> BlockShift; block < end; block++)
        {
            if ((MarkAt(block) & Unread) != 0)
            {
                return true;
            }
        }

        return false;
    }

    /// <summary>The nonce a block was last written with; 0 when its content is unknown.</summary>
    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public ulong NonceAt(long offsetBytes)
    {
        return _nonceOf[MarkAt(offsetBytes >> BlockShift) & ~Unread];
    }

    /// <summary>Blocks of a range that nobody has read since this run wrote them.</summary>
    public long UnreadBlocks(long startBytes, long lengthBytes)
    {
        long unread = 0;
        for (long block = startBytes >> BlockShift; block < (startBytes + lengthBytes) >> BlockShift; block++)
        {
            unread += (MarkAt(block) & Unread) != 0 ? 1 : 0;
        }

        return unread;
    }

    private ushort MarkAt(long block)
    {
        long segment = block >> SegmentShift;
        return _blocks[segment] is { } blocks ? blocks[block & (SegmentBlocks - 1)] : _uniform[segment];
    }

    /// <summary>For every 64 MiB piece whether all of it was written in this run.</summary>
    public bool[] WrittenPieces()
    {
        var written = new bool[_uniform.Length];
        for (int segment = 0; segment < written.Length; segment++)
        {
            int blocks = (int)Math.Min(SegmentBlocks, _blockCount - ((long)segment << SegmentShift));
            written[segment] = _blocks[segment] is { } marks ? marks.AsSpan(0, blocks).IndexOf((ushort)0) < 0 : _uniform[segment] != 0;
        }

        return written;
    }

    /// <summary>
    /// Takes in that something else wrote to the target: every block in the pass of this nonce, or, with none, nobody knows what.
    /// </summary>
    public void Replace(ulong? nonce)
    {
        ushort mark = nonce is { } known ? BeginPass(known) : (ushort)0;
        Array.Fill(_uniform, mark);
        Array.Clear(_blocks);
    }

    /// <summary>The parts of a range that lie in pieces this run has not written from end to end, ascending.</summary>
    public IReadOnlyList<(long StartBytes, long EndBytes)> Unwritten(long startBytes, long endBytes)
    {
        var parts = new List<(long StartBytes, long EndBytes)>();
        bool[] written = WrittenPieces();
        for (long at = startBytes; at < endBytes;)
        {
            long end = Math.Min(endBytes, ((at / FilledPieces.PieceBytes) + 1) * FilledPieces.PieceBytes);
            if (!written[at / FilledPieces.PieceBytes])
            {
                if (parts is [.., var before] && before.EndBytes == at)
                {
                    parts[^1] = (before.StartBytes, end);
                }
                else
                {
                    parts.Add((at, end));
                }
            }

            at = end;
        }

        return parts;
    }

    /// <summary>True when every block of the range was written in this run.</summary>
    public bool IsKnown(long startBytes, long lengthBytes)
    {
        for (long offset = startBytes; offset < startBytes + lengthBytes; offset += 1 << BlockShift)
        {
            if (NonceAt(offset) == 0)
            {
                return false;
            }
        }

        return true;
    }
}
