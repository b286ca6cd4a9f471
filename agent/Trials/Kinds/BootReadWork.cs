using System.Runtime.CompilerServices;
using Cardassay.Agent.BlockIo;
using Cardassay.Plans;

namespace Cardassay.Agent.Trials.Kinds;

/// <summary>
/// Reads of several sizes, most at random places, the others behind the one before, every byte checked. Models a system that starts.
/// See <see cref="BootShape"/> for the numbers.
/// </summary>
internal sealed class BootReadWork(SlotContext context) : TrialWork(context)
{
    private readonly long _blocks = context.Spec.LengthBytes / SectorTag.BlockBytes;
    private readonly int[] _sizes = [.. BootShape.Sizes.SelectMany(s => Enumerable.Repeat(s.Bytes, s.Percent))];
    private int _lengthBytes;

    public override long BytesPerOperation => _lengthBytes;

    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public override bool Prepare()
    {
        if (!TakeTurn())
        {
            return false;
        }

        long next = OffsetBytes + _lengthBytes;
        bool isRandom = _lengthBytes == 0 || Context.Random.Below(100) < BootShape.RandomPercent;
        _lengthBytes = _sizes[Context.Random.Below(_sizes.Length)];
        long end = Spec.StartBytes + Spec.LengthBytes;
        OffsetBytes = isRandom || next + _lengthBytes > end
            ? Spec.StartBytes + (Context.Random.Below(_blocks - (_lengthBytes / SectorTag.BlockBytes) + 1) * SectorTag.BlockBytes)
            : next;
        return true;
    }

    public override int Execute() => Context.Target.Read(OffsetBytes, Context.ReadBuffer, _lengthBytes);

    public override void Complete() => Context.VerifyAll(Context.ReadBuffer, OffsetBytes, _lengthBytes);
}
