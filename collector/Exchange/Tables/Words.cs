using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Collector.Exchange.Tables;

/// <summary>The words an export has for what is an enumeration here; null for "unknown".</summary>
internal static class Words
{
    internal static string? Condition(Claim? claim) => claim?.Condition switch { CardCondition.New => "new", CardCondition.Used => "used", _ => null };

    internal static string? Target(RunOpened? run) => run?.Target switch { TargetKind.Device => "device", TargetKind.Folder => "folder", _ => null };

    internal static string? Attachment(RunOpened? run) => run?.Attachment switch
    {
        Trials.Attachment.Slot => "slot", Trials.Attachment.Reader => "reader", Trials.Attachment.Fixed => "fixed", _ => null,
    };

    internal static string? Role(TrialMeasured? trial) => trial?.Role switch { TrialRole.WarmUp => "warm-up", TrialRole.Closing => "closing", TrialRole.Measured => "measured", _ => null };

    internal static string? Outcome(RunClosed? closed) => closed?.Outcome switch
    {
        RunOutcome.Completed => "completed", RunOutcome.Interrupted => "interrupted", RunOutcome.Failed => "failed", _ => null,
    };
}
