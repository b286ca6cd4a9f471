namespace Cardassay.Agent.Trials;

/// <summary>
/// What a slot does again and again. Only <see cref="Execute"/> is timed; nothing in any of the three may allocate, lock or log. A trial
/// kind is one class derived from this, named in <see cref="TrialWorks"/>.
/// </summary>
internal abstract class TrialWork(SlotContext context) : IDisposable
{
    /// <summary>Blocks that belong to this slot; divided here and not before each operation.</summary>
    private readonly long _ownBlocks = context.Spec.BlockCount / context.Spec.QueueDepth;

    protected SlotContext Context { get; } = context;

    protected TrialSpec Spec { get; } = context.Spec;

    /// <summary>Where the operation takes place, bytes; what a stall is reported with.</summary>
    public long OffsetBytes { get; protected set; }

    /// <summary>Bytes the operation transfers that was chosen last.</summary>
    public virtual long BytesPerOperation => Spec.BlockBytes;

    /// <summary>True when the operation chosen last is a read of a trial that also writes.</summary>
    public virtual bool IsRead => false;

    /// <summary>Chooses place and data of the next operation; false when there is none left.</summary>
    public abstract bool Prepare();

    /// <summary>The operation; 0 or an error number.</summary>
    public abstract int Execute();

    /// <summary>Checks or notes what happened.</summary>
    public abstract void Complete();

    /// <summary>Clears away what it made; after the trial, nothing is timed.</summary>
    public virtual void Dispose()
    {
    }

    /// <summary>Takes one operation from what the slot may still make.</summary>
    protected bool TakeTurn() => Context.OperationsLeft-- > 0;

    /// <summary>
    /// A random block of this slot: blocks belong to the slots in turn, so that no two slots ever use one at once and yet every
    /// block is as likely as another.
    /// </summary>
    protected long RandomBlockOffset()
    {
        long block = (Context.Random.Below(_ownBlocks) * Spec.QueueDepth) + Context.Slot;
        return Spec.StartBytes + (block * Spec.BlockBytes);
    }
}
