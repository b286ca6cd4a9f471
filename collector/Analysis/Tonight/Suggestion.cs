namespace Cardassay.Collector.Analysis.Tonight;

/// <summary>Runs proposed for one card.</summary>
public sealed record Suggestion
{
    /// <summary>Card.</summary>
    public required string Name { get; init; }

    /// <summary>Board to use, or null when any will do.</summary>
    public string? Board { get; init; }

    /// <summary>Why.</summary>
    public required SuggestionKind Kind { get; init; }

    /// <summary>Why, as a sentence.</summary>
    public required string Reason { get; init; }

    /// <summary>Plan that the reason needs ("prove" for a capacity proof), or null when nothing says which.</summary>
    public string? Plan { get; init; }

    /// <summary>Runs proposed for tonight, at least 1; further ones on further nights.</summary>
    public int Runs { get; init; } = 1;

    /// <summary>Hours they will take, from the card's own past runs, else an estimate.</summary>
    public double Hours { get; init; }

    /// <summary>Open questions these runs are expected to close; a share of a question counts as such.</summary>
    public double Closes { get; init; }

    /// <summary>Questions closed per hour: the order of the list.</summary>
    public double ClosesPerHour => Closes / Hours;
}
