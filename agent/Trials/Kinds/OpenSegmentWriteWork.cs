using System.Runtime.CompilerServices;

namespace Cardassay.Agent.Trials.Kinds;

/// <summary>
/// Blocks written in turn to k segments, ascending within each; full segments are left for the next k. Models k files growing at once.
/// Cards keep only a few allocation units open; beyond that number each write costs the copying of a whole one, and the rate drops at
/// that k (Bergmann, 2011, list mails and article on flash cards). The segments are the card's only on a whole device, or where the
/// file system happens to place the file so.
/// </summary>
internal sealed class OpenSegmentWriteWork(SlotContext context) : TrialWork(context)
{
    private readonly long _perSegment = context.Spec.SegmentBytes / context.Spec.BlockBytes;
    private readonly long _segments = context.Spec.LengthBytes / context.Spec.SegmentBytes;
    private long _turn = -1;
    private nint _buffer;

    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public override bool Prepare()
    {
        if (!TakeTurn())
        {
            return false;
        }

        _turn++;
        long lane = _turn % Spec.OpenSegments;
        long step = _turn / Spec.OpenSegments;
        long segment = ((step / _perSegment * Spec.OpenSegments) + lane) % _segments;
        OffsetBytes = Spec.StartBytes + (segment * Spec.SegmentBytes) + (step % _perSegment * Spec.BlockBytes);
        _buffer = Context.Tagged(OffsetBytes);
        return true;
    }

    public override int Execute() => Context.Target.Write(OffsetBytes, _buffer, Spec.BlockBytes);

    public override void Complete() => Context.Written(OffsetBytes);
}
