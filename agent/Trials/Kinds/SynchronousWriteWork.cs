namespace Cardassay.Agent.Trials.Kinds;

/// <summary>
/// Small blocks at random places, each made durable with fdatasync before the next: write and flush together are one operation. Models
/// the commit of a database (Kim, Lee, Won: 90 % of the writes traced were synchronous and 81 % random).
/// Extending, blocks follow each other past the end of the scratch file, so that each flush also makes the new length durable: what a
/// growing log costs on that file system. On a raw card whose cache is not enabled the flush sends nothing to the card, so only the
/// figures of a folder are ranked.
/// </summary>
internal sealed class SynchronousWriteWork(SlotContext context) : RandomWriteWork(context)
{
    private long _extended;

    public override int Execute()
    {
        int errno = base.Execute();
        return errno != 0 ? errno : Context.Target.Flush();
    }

    protected override long NextOffset() =>
        Spec.Extending ? Spec.StartBytes + (_extended++ * Spec.BlockBytes) : RandomBlockOffset();
}
