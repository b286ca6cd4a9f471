using System.Globalization;
using Cardassay.Agent.BlockIo;
using Cardassay.Agent.Sysfs;
using Cardassay.Agent.Trials;
using Cardassay.Trials;

namespace Cardassay.Agent.Guard;

/// <summary>
/// Whether a run still has before it what was checked: what the kernel shows under the disk's name (registers, size, `diskseq`), and what
/// the open descriptor itself shows. Between check and opening a node, a medium or a mount may have been put in the place of another.
/// </summary>
internal sealed class OpenedWatch(SysfsTree tree, ResolvedTarget target, CardSighting? card) : ICardWatch
{
    private FileTarget? _opened;

    /// <summary>From now on this descriptor is asked too.</summary>
    public void Follow(FileTarget opened) => _opened = opened;

    /// <inheritdoc/>
    public string? WhatChanged() =>
        (card is null ? null : new CardWatch(tree, card).WhatChanged()) ?? (_opened is null ? null : WhyNot(_opened.Opened()));

    /// <summary>Why an open descriptor is not the target that was looked at, as a sentence; null when it is.</summary>
    public string? WhyNot(OpenedDevice opened)
    {
        string name = target.DeviceName ?? target.Path;
        if (target.OpensAs is not { } number || opened.Number is null)
        {
            return $"It cannot be told whether {target.Path} is what was looked at before: the kernel shows no device number for it.";
        }

        if (opened.Number != number)
        {
            return target.Kind == TargetKind.Folder
                ? $"{target.Path} lies on another file system than before ({opened.Number} instead of {number}); "
                    + "was the card taken out or unmounted? Mount it and try again."
                : $"{target.Path} leads to another device than before ({opened.Number} instead of {name}, {number}); "
                    + "look at it again and try again.";
        }

        if (target.Kind == TargetKind.Folder)
        {
            return null;
        }

        if (opened.DiskSequence != target.OpensAsSequence)
        {
            return string.Create(
                CultureInfo.InvariantCulture,
                $"The medium of {name} was changed or put in again since it was looked at: diskseq {opened.DiskSequence} instead of "
                    + $"{target.OpensAsSequence}.");
        }

        return opened.SizeBytes == target.DeviceBytes ? null : string.Create(
            CultureInfo.InvariantCulture, $"{name} has {opened.SizeBytes} bytes now and had {target.DeviceBytes} when it was looked at.");
    }
}
