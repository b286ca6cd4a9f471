using Cardassay.Collector.Analysis.Figures;
using Cardassay.Trials;

namespace Cardassay.Collector.Analysis;

/// <summary>One run of a card and what became of its trials.</summary>
public sealed record RunUse
{
    /// <summary>Opening record.</summary>
    public required RecordKey Key { get; init; }

    /// <summary>The run's id.</summary>
    public required RunId Run { get; init; }

    /// <summary>Board.</summary>
    public required string Board { get; init; }

    /// <summary>Collector it was taken over from; "" for this one's own.</summary>
    public string Origin { get; init; } = "";

    /// <summary>Night it counts for: noon to noon UTC, named by the day it began.</summary>
    public DateOnly Night { get; init; }

    /// <summary>Where and how it was measured.</summary>
    public required MeasuringContext Context { get; init; }

    /// <summary>How it ended; null while open or when the board went silent.</summary>
    public RunOutcome? Outcome { get; init; }

    /// <summary>Trials whose figures are pooled.</summary>
    public int Pooled { get; init; }

    /// <summary>Trials set aside, each with its rule.</summary>
    public IReadOnlyList<SetAsideValue> SetAside { get; init; } = [];

    /// <summary>A rule that sets the whole run aside, or null.</summary>
    public SetAsideRule? Rule { get; init; }
}
