using Cardassay.Identity;

namespace Cardassay.Cards.Tests;

/// <summary>A kind of card and what may be said of it.</summary>
/// <param name="Name">For the table.</param>
/// <param name="Traits">Words of card.c, without the size.</param>
/// <param name="Sparse">Words a sparse proof may come to.</param>
/// <param name="Full">Words a full proof may come to.</param>
internal sealed record Kind(string Name, string Traits, ProofWord[] Sparse, ProofWord[] Full)
{
    /// <summary>Words a timed proof may come to; as a sparse one where nothing is said.</summary>
    public ProofWord[]? Timed { get; init; }

    /// <summary>Bytes it really has, cache included, where that is less than it claims: no proof may state more as kept.</summary>
    public long? RoomBytes { get; init; }

    /// <summary>Bytes really kept that an overstatement must name, in any mode; null where they cannot be told.</summary>
    public long? TrueBytes { get; init; }

    /// <summary>Bytes claimed; 0 stands for the usual size.</summary>
    public long Bytes { get; init; }

    /// <summary>Everything on it is discarded before the proof; the card then reads zeros.</summary>
    public bool IsDiscarded { get; init; }

    /// <summary>It is proven once before, so that it holds an earlier pass.</summary>
    public bool HasEarlierPass { get; init; }

    public ProofWord[] Allowed(Mode mode) => mode switch { Mode.Full => Full, Mode.Timed => Timed ?? Sparse, _ => Sparse };
}
