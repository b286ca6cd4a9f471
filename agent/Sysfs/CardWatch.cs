using System.Globalization;

namespace Cardassay.Agent.Sysfs;

/// <summary>
/// Compares the card under test with the one the run began with: identity, size and `diskseq`. Reads what the kernel
/// cached; the card itself is not touched.
/// </summary>
public sealed class CardWatch(SysfsTree tree, CardSighting first) : ICardWatch
{
    /// <inheritdoc/>
    public string? WhatChanged()
    {
        if (CardSighting.Take(tree, first.DiskName) is not { } now)
        {
            return $"The card is gone: the kernel no longer has {first.DiskName}.";
        }

        return Compare(first, now);
    }

    /// <summary>What differs between two sightings of one disk, as a sentence; null when it is the same card, put in once.</summary>
    internal static string? Compare(CardSighting first, CardSighting now)
    {
        if (now.Identity != first.Identity)
        {
            return now.Identity.FromRegisters || !first.Identity.FromRegisters
                ? $"{first.DiskName} is another card now: {now.Identity} instead of {first.Identity}."
                : $"The registers of {first.DiskName} can no longer be read; it was {first.Identity}.";
        }

        // The kernel takes the size away before it takes the name away (Linux, block/genhd.c, del_gendisk).
        if (now.DiskBytes is 0 && first.DiskBytes is not 0)
        {
            return $"The card is gone: the kernel shows {first.DiskName} with a size of nothing.";
        }

        if (now.DiskBytes != first.DiskBytes)
        {
            return string.Create(
                CultureInfo.InvariantCulture, $"The size of {first.DiskName} changed from {first.DiskBytes} to {now.DiskBytes} bytes.");
        }

        return now.DiskSequence == first.DiskSequence ? null : string.Create(
            CultureInfo.InvariantCulture,
            $"The medium of {first.DiskName} was changed or put in again: diskseq {now.DiskSequence} instead of {first.DiskSequence}.");
    }
}
