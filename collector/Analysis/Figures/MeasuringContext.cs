using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Collector.Analysis.Figures;

/// <summary>The part of the comparability key that is no property of the trial: figures of two contexts are never pooled or ranked together.</summary>
/// <param name="Plan">Name of the plan.</param>
/// <param name="PlanVersion">Version of the plan.</param>
/// <param name="Target">Device or folder.</param>
/// <param name="FileSystem">File system of a folder target, else null.</param>
/// <param name="Attachment">Slot, reader or fixed.</param>
/// <param name="BusMode">Bus mode as the kernel names it, or null when the board did not say.</param>
/// <param name="State">New, used or not stated.</param>
public sealed record MeasuringContext(
    string Plan, string PlanVersion, TargetKind Target, string? FileSystem, Attachment Attachment, string? BusMode, CardCondition State)
{
    /// <summary>For people: "plan night 2, device in a slot, sd uhs SDR104, new card".</summary>
    public string Text => string.Join(", ",
        $"plan {Plan} {PlanVersion}",
        (Target switch { TargetKind.Device => "device", TargetKind.Folder => $"folder on {FileSystem ?? "an unknown file system"}", _ => "unknown target" })
        + (Attachment switch { Attachment.Slot => " in a slot", Attachment.Reader => " in a reader", Attachment.Fixed => ", fixed", _ => ", unknown attachment" }),
        BusMode ?? "bus mode unknown",
        State switch { CardCondition.New => "new card", CardCondition.Used => "used card", _ => "new or used not stated" });

    /// <inheritdoc/>
    public override string ToString() => Text;
}
