using Cardassay.Agent.Trials.Kinds;
using Cardassay.Trials;

namespace Cardassay.Agent.Trials;

/// <summary>Which class does the work of which kind.</summary>
internal static class TrialWorks
{
    public static TrialWork For(SlotContext context) => context.Spec.Kind switch
    {
        TrialKind.SequentialWrite => new SequentialWriteWork(context),
        TrialKind.SequentialRead => new SequentialReadWork(context),
        TrialKind.RandomWrite => new RandomWriteWork(context),
        TrialKind.RandomRead => new RandomReadWork(context),
        TrialKind.SynchronousWrite => new SynchronousWriteWork(context),
        TrialKind.Mixed => new MixedWork(context),
        TrialKind.SustainedWrite => new SustainedWriteWork(context),
        TrialKind.OpenSegmentWrite => new OpenSegmentWriteWork(context),
        TrialKind.Transaction => new TransactionWork(context),
        TrialKind.StallWatch => new StallWatchWork(context),
        TrialKind.Cliff => new SustainedWriteWork(context),
        TrialKind.BootRead => new BootReadWork(context),
        TrialKind.PackageInstall => new PackageInstallWork(context),
        TrialKind.DatabaseCommit => new DatabaseCommitWork(context),
        TrialKind.LogAppend => new LogAppendWork(context),
        TrialKind.Swap => new SwapWork(context),
        TrialKind.ClassWrite => new ClassWriteWork(context),
        TrialKind.ClassRandomRead => new ClassRandomReadWork(context),
        TrialKind.ClassRandomWrite => new ClassRandomWriteWork(context),
        _ => throw new ArgumentOutOfRangeException(nameof(context), context.Spec.Kind, "There is no work for this kind of trial."),
    };

    /// <summary>
    /// True for kinds whose elapsed time includes a final flush: without it a cache that answers early would be taken for a fast card.
    /// Kinds that flush after every operation need none.
    /// </summary>
    public static bool EndsWithFlush(TrialKind kind) =>
        kind is TrialKind.SequentialWrite or TrialKind.RandomWrite or TrialKind.Mixed or TrialKind.SustainedWrite
            or TrialKind.OpenSegmentWrite
            or TrialKind.ClassWrite or TrialKind.ClassRandomWrite or TrialKind.Cliff or TrialKind.Swap or TrialKind.StallWatch;
}
