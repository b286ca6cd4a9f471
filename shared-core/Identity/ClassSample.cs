using Cardassay.Plans;
using Cardassay.Registers;
using Cardassay.Trials;

namespace Cardassay.Identity;

/// <summary>One valid class trial and the circumstances that decide whether it may be judged.</summary>
public sealed record ClassSample
{
    /// <summary>What it did.</summary>
    public required TrialKind Kind { get; init; }

    /// <summary>The class under whose condition it was made.</summary>
    public required ClassStandard Standard { get; init; }

    /// <summary>MB/s (10^6) of the slowest counted unit, or operations per second.</summary>
    public required double Value { get; init; }

    /// <summary>MB/s (10^6) of the fastest counted unit; 0 for random kinds and where it was not kept.</summary>
    public double Fastest { get; init; }

    /// <summary>The run it belongs to.</summary>
    public RunId RunId { get; init; }

    /// <summary>Errors of the link during the trial; null where the host does not count them.</summary>
    public long? LinkErrors { get; init; }

    /// <summary>Family of the card, by its CSD; none when that is hidden.</summary>
    public CardFamily Family { get; init; }

    /// <summary>How the card is attached.</summary>
    public Attachment Attachment { get; init; }

    /// <summary>Device or folder.</summary>
    public TargetKind Target { get; init; }

    /// <summary>Conditions before the trial; bus mode, width and clock are used.</summary>
    public Conditions Bus { get; init; } = new();

    /// <summary>Bytes of the units written; 0 for random kinds.</summary>
    public long UnitBytes { get; init; }

    /// <summary>Bytes the speed was averaged over; 0 for random kinds, and in records of agents that counted the first unit too.</summary>
    public long CountedUnitBytes { get; init; }

    /// <summary>Bytes of the unit the card states for this class, or null.</summary>
    public long? StatedUnitBytes { get; init; }

    /// <summary>The sample of a trial, or null when it is no valid, counting class trial.</summary>
    /// <param name="trial">The trial.</param>
    /// <param name="target">Device or folder.</param>
    /// <param name="attachment">How the card is attached.</param>
    /// <param name="registers">What the card says of itself, or null when it is hidden.</param>
    public static ClassSample? Of(TrialMeasured trial, TargetKind target, Attachment attachment, CardRegisters? registers) =>
        !TrialKinds.IsClass(trial.Kind) || !trial.Valid || trial.Role != TrialRole.Measured
            ? null
            : new ClassSample
            {
                Kind = trial.Kind,
                Standard = trial.Standard,
                Value = TrialFigure.Of(trial),
                Fastest = trial.Kind == TrialKind.ClassWrite ? trial.FastestUnitBytesPerSecond / 1e6 : 0,
                RunId = trial.RunId,
                LinkErrors = trial.After.LinkErrors - trial.Before.LinkErrors,
                Family = registers?.Csd.Value?.Family ?? CardFamily.None,
                CountedUnitBytes = trial.LeftOutUnits >= ClassConditions.LeftOutUnits ? trial.CountedUnitBytes : 0,
                Attachment = attachment,
                Target = target,
                Bus = trial.Before,
                UnitBytes = trial.SegmentBytes,
                StatedUnitBytes = ClassUnits.UnitOf(registers?.Status.Value, trial.Standard),
            };
}
