using System.Runtime.CompilerServices;
using Cardassay.Agent.BlockIo;

namespace Cardassay.Agent.Trials.Kinds;

/// <summary>
/// Large blocks read one after the other, from the start of the range, again from the start when it ends. Models copying a large
/// file off the card or loading a large program.
/// Every byte was checked when the run was prepared; here one 4,096-byte block in 64 is, another one each time, because checking
/// everything between two reads would make a fast card look slower than it is.
/// </summary>
internal sealed class SequentialReadWork(SlotContext context) : TrialWork(context)
{
    private const int SampledOneIn = 64;

    private long _turn;

    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public override bool Prepare()
    {
        _turn = Context.Cursor.Next();
        OffsetBytes = Spec.StartBytes + (_turn % Spec.BlockCount * Spec.BlockBytes);
        return _turn - Spec.FirstTurn < Spec.OperationsAtMost;
    }

    public override int Execute() => Context.Target.Read(OffsetBytes, Context.ReadBuffer, Spec.BlockBytes);

    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public override void Complete()
    {
        Context.Map.MarkRead(OffsetBytes, Spec.BlockBytes); // all of it was, however little is checked
        int stride = Spec.ChecksEveryBlock ? SectorTag.BlockBytes : SectorTag.BlockBytes * SampledOneIn;
        // Steps of 5 through 64 reach every place before one comes again.
        int first = Spec.ChecksEveryBlock ? 0 : (int)((_turn * 5) % SampledOneIn) * SectorTag.BlockBytes % Spec.BlockBytes;
        for (int at = first; at < Spec.BlockBytes; at += stride)
        {
            Context.Verify(Context.ReadBuffer + at, OffsetBytes + at);
        }
    }
}
