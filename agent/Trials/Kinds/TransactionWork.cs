using System.Runtime.CompilerServices;
using Cardassay.Plans;

namespace Cardassay.Agent.Trials.Kinds;

/// <summary>
/// One operation is one transaction of a database: a block appended to the log, a flush, two blocks at random places of the data, a
/// flush. The log is the first eighth of the range, used in a circle. Models phones' and controllers' embedded databases (Lee and Won,
/// EMSOFT 2012; Jeong et al., ATC 2013). See <see cref="TransactionShape"/> for the numbers.
/// </summary>
internal sealed class TransactionWork : TrialWork
{
    private readonly long _logBlocks;
    private readonly long _dataBlocks;
    private readonly long[] _dataOffsets = new long[TransactionShape.DataWrites];
    private readonly nint[] _dataBuffers = new nint[TransactionShape.DataWrites];
    private long _turn = -1;
    private nint _logBuffer;

    public TransactionWork(SlotContext context)
        : base(context)
    {
        _logBlocks = Spec.BlockCount / TransactionShape.LogDivisor;
        _dataBlocks = Spec.BlockCount - _logBlocks;
    }

    public override long BytesPerOperation => TransactionShape.WritesPerTransaction * (long)Spec.BlockBytes;

    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public override bool Prepare()
    {
        if (!TakeTurn())
        {
            return false;
        }

        _turn++;
        OffsetBytes = Spec.StartBytes + (_turn % _logBlocks * Spec.BlockBytes);
        _logBuffer = Context.Tagged(OffsetBytes);
        for (int i = 0; i < _dataOffsets.Length; i++)
        {
            _dataOffsets[i] = Spec.StartBytes + ((_logBlocks + Context.Random.Below(_dataBlocks)) * Spec.BlockBytes);
            _dataBuffers[i] = Context.Tagged(_dataOffsets[i]);
        }

        return true;
    }

    public override int Execute()
    {
        int errno = Context.Target.Write(OffsetBytes, _logBuffer, Spec.BlockBytes);
        errno = errno != 0 ? errno : Context.Target.Flush();
        for (int i = 0; i < _dataOffsets.Length && errno == 0; i++)
        {
            errno = Context.Target.Write(_dataOffsets[i], _dataBuffers[i], Spec.BlockBytes);
        }

        return errno != 0 ? errno : Context.Target.Flush();
    }

    public override void Complete()
    {
        Context.Written(OffsetBytes);
        foreach (long offset in _dataOffsets)
        {
            Context.Written(offset);
        }
    }
}
