namespace Cardassay.Collector.Analysis.Tonight;

/// <summary>Why a run is proposed.</summary>
public enum SuggestionKind
{
    /// <summary>Claimed and never measured.</summary>
    FirstRun,

    /// <summary>Nothing links its boards with others.</summary>
    Link,

    /// <summary>Its rank is provisional.</summary>
    Settle,

    /// <summary>A floor is undecided.</summary>
    DecideFloor,

    /// <summary>Two cards are not told apart.</summary>
    Separate,

    /// <summary>Too few cards tie a board to the others.</summary>
    OtherBoard,

    /// <summary>The weekly run of a reference card is due.</summary>
    Reference,

    /// <summary>The capacity is not proven.</summary>
    ProveCapacity,
}
