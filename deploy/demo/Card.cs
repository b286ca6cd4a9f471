using Cardassay.Trials;

namespace Cardassay.Demo;

/// <summary>One card with its sticker.</summary>
internal sealed record Card
{
    /// <summary>The sticker.</summary>
    public required string Tag { get; init; }

    /// <summary>What it is sold as.</summary>
    public required Product Product { get; init; }

    /// <summary>What is inside, when that is not what it is sold as.</summary>
    public Silicon? Inside { get; init; }

    /// <summary>PSN of the CID.</summary>
    public required uint Serial { get; init; }

    /// <summary>Month of making, by the CID.</summary>
    public required (int Year, int Month) Made { get; init; }

    /// <summary>Index of the board it was in, night by night; -1 when it lay in the drawer.</summary>
    public required IReadOnlyList<int> Boards { get; init; }

    /// <summary>Slot of the board, from 0.</summary>
    public required int Slot { get; init; }

    /// <summary>Day it was bought; the price is of that day.</summary>
    public required DateOnly Bought { get; init; }

    /// <summary>Price paid, when not the usual one.</summary>
    public decimal? Price { get; init; }

    /// <summary>Whether the network vouches for it.</summary>
    public bool IsReference { get; init; }

    /// <summary>What was planted in it.</summary>
    public Fault Fault { get; init; }

    /// <summary>Proof of its capacity at the end of the last night; unknown for a card whose content was needed.</summary>
    public ProofKind Proof { get; init; } = ProofKind.Sparse;

    /// <summary>Measured repetitions of each step in a run.</summary>
    public int Repetitions { get; init; } = 7;

    /// <summary>What is really inside.</summary>
    public Silicon Silicon => Inside ?? Product.Silicon;
}
