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

    /// <summary>What keeps figures of this context from being compared with those of another, for people: "measured on a 25 MB/s slot"; empty for the same context.</summary>
    /// <param name="other">The context they are held against.</param>
    public IReadOnlyList<string> DiffersFrom(MeasuringContext other) => [.. DifferencesFrom(other).Select(d => d.OfCard)];

    /// <summary>What people call this context beside another: "used cards", "on a 25 MB/s slot"; "measured alike" for the same one.</summary>
    /// <param name="other">The context of the leading ranking.</param>
    public string NameBeside(MeasuringContext other) =>
        DifferencesFrom(other) is { Count: > 0 } differences ? string.Join(", ", differences.Select(d => d.OfCards)) : "measured alike";

    /// <summary>Each difference as it is said of a card, and of all cards of the context.</summary>
    private List<(string OfCard, string OfCards)> DifferencesFrom(MeasuringContext other)
    {
        List<(string OfCard, string OfCards)> differs = [];
        if (State != other.State)
        {
            differs.Add(State switch { CardCondition.Used => ("a used card", "used cards"), CardCondition.New => ("a new card", "new cards"), _ => Alike("new or used was not stated") });
        }

        if (BusMode != other.BusMode)
        {
            differs.Add(Measured(OnBus));
        }

        if (Attachment != other.Attachment)
        {
            differs.Add(Attachment switch
            {
                Attachment.Slot => Measured("in a slot"),
                Attachment.Reader => Measured("in a reader"),
                Attachment.Fixed => ("a fixed disk", "fixed disks"),
                _ => Alike("how it was attached is unknown"),
            });
        }

        if (Target != other.Target || FileSystem != other.FileSystem)
        {
            differs.Add(Measured(Target == TargetKind.Folder ? $"through a folder on {FileSystem ?? "an unknown file system"}" : "as a device"));
        }

        if (Plan != other.Plan || PlanVersion != other.PlanVersion)
        {
            differs.Add(Measured($"by plan {Plan} {PlanVersion}"));
        }

        return differs;

        static (string OfCard, string OfCards) Measured(string how) => ("measured " + how, how);

        static (string OfCard, string OfCards) Alike(string text) => (text, text);
    }

    /// <summary>What the bus can carry, for people; the source is that of <see cref="BusCeiling"/>.</summary>
    private string OnBus => BusCeiling.MegabytesPerSecond(BusMode) is double most
        ? FormattableString.Invariant($"on a {most:0.#} MB/s slot") + (most is 50 or 25 or 12.5 && SharesCeiling ? $" ({BusMode})" : "")
        : BusMode is null ? "on a bus of unknown speed" : $"on a bus in mode {BusMode}";

    /// <summary>True for modes that carry as much as another one, which must not be taken for it.</summary>
    private bool SharesCeiling => BusMode is { } mode && (mode.Contains("SDR", StringComparison.Ordinal) || mode.Contains("DDR", StringComparison.Ordinal));

    /// <summary>Of what contexts mostly differ in: an analysis looks up contexts by the ten thousand.</summary>
    public override int GetHashCode() => HashCode.Combine(Plan.Length, PlanVersion.Length, (int)Target, (int)Attachment, BusMode?.Length ?? 0, (int)State);

    /// <inheritdoc/>
    public override string ToString() => Text;
}
