using System.Runtime.CompilerServices;
using Cardassay.Agent.BlockIo;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Agent.Trials;

/// <summary>What the work of one slot uses. Created before the trial starts, used by one thread.</summary>
internal sealed class SlotContext : IDisposable
{
    private const int LeastPoolBytes = 16 << 10;

    private readonly AlignedBuffer _pool;
    private readonly AlignedBuffer _read;
    private readonly ulong _nonce;
    private readonly ushort _pass;
    private readonly long[] _unitNs;
    private int _poolAt;

    public SlotContext(TrialSpec spec, int slot, IBlockTarget target, ContentMap map, ushort pass, SharedCursor cursor, TrialClock clock)
    {
        Spec = spec;
        Slot = slot;
        Target = target;
        Map = map;
        Cursor = cursor;
        Clock = clock;
        Random = new SeededSequence(SplitSeed.Of(spec.Seed, slot));
        OperationsLeft = (spec.OperationsAtMost / spec.QueueDepth) + (slot < spec.OperationsAtMost % spec.QueueDepth ? 1 : 0);
        _pass = pass;
        _nonce = SplitSeed.NonceOf(spec.Seed);
        _read = new AlignedBuffer(TrialKinds.Reads(spec.Kind) ? spec.BlockBytes : SectorTag.BlockBytes);
        _pool = new AlignedBuffer(TrialKinds.Writes(spec.Kind) ? PoolBytes(spec.BlockBytes) : SectorTag.BlockBytes);
        _unitNs = spec.Kind == TrialKind.ClassWrite ? new long[TrialMeasured.MostUnits] : [];
        FillPool();
    }

    public TrialSpec Spec { get; }

    public int Slot { get; }

    public IBlockTarget Target { get; }

    public ContentMap Map { get; }

    public SharedCursor Cursor { get; }

    public TrialClock Clock { get; }

    public SeededSequence Random { get; }

    /// <summary>Operations this slot may still make.</summary>
    public long OperationsLeft { get; set; }

    /// <summary>Blocks of 4,096 bytes that came back other than they were written.</summary>
    public long Mismatches { get; private set; }

    /// <summary>Where the first of them was, bytes.</summary>
    public long FirstMismatchOffset { get; private set; }

    /// <summary>Blocks read of which this run does not know the content.</summary>
    public long UnknownBlocks { get; private set; }

    /// <summary>Whole allocation units written.</summary>
    public long Units { get; private set; }

    /// <summary>Time of the writes to the slowest counted part of them, ns.</summary>
    public long SlowestUnitNs { get; private set; }

    /// <summary>Time of each of them, ns, in order; the first <see cref="TrialMeasured.MostUnits"/>.</summary>
    public ReadOnlySpan<long> UnitNs => _unitNs.AsSpan(0, (int)Math.Min(Units, _unitNs.Length));

    /// <summary>A block of incompressible data that belongs to no place.</summary>
    public nint Filler => _pool.Address;

    /// <summary>Time of the writes to the fastest counted part of them, ns; 0 when none counted.</summary>
    public long FastestUnitNs { get; private set; }

    /// <summary>A buffer of one block for reading.</summary>
    public nint ReadBuffer => _read.Address;

    /// <summary>
    /// A block of incompressible data, tagged for a place. Buffers take turns, so that two successive blocks differ everywhere. From
    /// here on the place counts as unknown until <see cref="Written"/>.
    /// </summary>
    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public unsafe nint Tagged(long offsetBytes)
    {
        int blockBytes = Spec.BlockBytes;
        _poolAt = _poolAt + (2 * blockBytes) <= _pool.LengthBytes ? _poolAt + blockBytes : 0;
        byte* block = (byte*)_pool.Address + _poolAt;
        for (int at = 0; at < blockBytes; at += SectorTag.BlockBytes)
        {
            SectorTag.Stamp(block + at, offsetBytes + at, _nonce);
        }

        if (!Spec.Extending)
        {
            Map.Mark(offsetBytes, blockBytes, 0);
        }

        return (nint)block;
    }

    /// <summary>Says that the block at a place was written.</summary>
    public void Written(long offsetBytes)
    {
        if (!Spec.Extending)
        {
            Map.Mark(offsetBytes, Spec.BlockBytes, _pass);
        }
    }

    /// <summary>Compares 4,096 bytes that were read with what was written there.</summary>
    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public unsafe void Verify(nint block, long offsetBytes)
    {
        ulong nonce = Map.NonceAt(offsetBytes);
        if (nonce == 0)
        {
            UnknownBlocks++;
        }
        else if (!SectorTag.Matches((byte*)block, offsetBytes, nonce))
        {
            FirstMismatchOffset = Mismatches == 0 ? offsetBytes : FirstMismatchOffset;
            Mismatches++;
        }
    }

    /// <summary>Compares a whole block that was read.</summary>
    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public void VerifyAll(nint block, long offsetBytes) => VerifyAll(block, offsetBytes, Spec.BlockBytes);

    /// <summary>Compares what was read, a multiple of 4,096 bytes.</summary>
    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public void VerifyAll(nint block, long offsetBytes, int lengthBytes)
    {
        Map.MarkRead(offsetBytes, lengthBytes);
        for (int at = 0; at < lengthBytes; at += SectorTag.BlockBytes)
        {
            Verify(block + at, offsetBytes + at);
        }
    }

    /// <summary>Says that a whole allocation unit was written.</summary>
    /// <param name="ns">Time of its writes together, ns.</param>
    public void UnitWritten(long ns)
    {
        if (Units < _unitNs.Length)
        {
            _unitNs[Units] = ns;
        }

        Units++;
    }

    /// <summary>Says how long what is averaged over took: an allocation unit, or a part of a large one.</summary>
    /// <param name="ns">Time of its writes together, ns.</param>
    public void PartCounted(long ns)
    {
        SlowestUnitNs = Math.Max(SlowestUnitNs, ns);
        FastestUnitNs = FastestUnitNs == 0 ? ns : Math.Min(FastestUnitNs, ns);
    }

    public void Dispose()
    {
        _pool.Dispose();
        _read.Dispose();
    }

    /// <summary>Two blocks at least; of small ones a few, yet no more than a processor's first cache holds.</summary>
    private static int PoolBytes(int blockBytes) => Math.Max(2 * blockBytes, LeastPoolBytes / blockBytes * blockBytes);

    private unsafe void FillPool()
    {
        var keys = new SeededSequence(SplitSeed.Of(_nonce, Slot));
        for (int at = 0; at < _pool.LengthBytes; at += SectorTag.BlockBytes)
        {
            SectorTag.Fill((byte*)_pool.Address + at, keys.Next());
        }
    }
}
