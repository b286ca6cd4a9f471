using Cardassay.Trials;

namespace Cardassay.Collector.Boards;

/// <summary>What is in a slot as a medium: a person's word about it holds for nothing else that is put in its place.</summary>
internal static class Media
{
    /// <summary>The medium that is in a slot now.</summary>
    internal static V1.Medium Of(string board, V1.Presence presence, V1.Slot slot)
    {
        var medium = new V1.Medium { Board = board, DiskName = slot.DiskName, Identity = slot.Identity, BootId = presence.BootId };
        if (slot.HasDiskSequence)
        {
            medium.DiskSequence = slot.DiskSequence;
        }

        return medium;
    }

    /// <summary>A card a person put in: what a board runs from, and what is soldered to it, stays there.</summary>
    internal static bool IsCard(V1.Slot slot) => !slot.HoldsSystem && slot.Attachment != (uint)Attachment.Fixed;

    /// <summary>
    /// Whether a slot holds a medium that was in it before. It does when the kernel has counted no other one in between, or when its
    /// registers say so and nothing else is known to have the same. Where that cannot be told, it does not.
    /// </summary>
    /// <param name="medium">The medium that was in the slot.</param>
    /// <param name="presence">What the board says now.</param>
    /// <param name="slot">The slot now.</param>
    /// <param name="card">Which card is recognised in it.</param>
    internal static bool IsStill(V1.Medium medium, V1.Presence presence, V1.Slot slot, RecognisedCard card) =>
        slot.DiskName == medium.DiskName && slot.Identity == medium.Identity
        && ((presence.BootId == medium.BootId && slot.HasDiskSequence && medium.HasDiskSequence && slot.DiskSequence == medium.DiskSequence)
            || (slot.IdentityFromRegisters && card.Candidates.Count == 0));

    /// <summary>
    /// Whether a word about a medium can be told from one about the next in its slot: its registers are
    /// shown, or the kernel counts media.
    /// </summary>
    internal static bool CanBeTold(V1.Slot slot) => slot.IdentityFromRegisters || slot.HasDiskSequence;
}
