using System.Runtime.InteropServices;

namespace Cardassay.Agent.BlockIo;

/// <summary>
/// Asks the kernel whether a block device is free: O_EXCL is granted to one claimant only, and a mounted file system, swap,
/// device-mapper, RAID and every formatting tool claim it the same way, in any mount namespace.
/// </summary>
public static class ExclusiveOpen
{
    /// <summary>Whether somebody holds the device. Opens it for reading only and lets go at once.</summary>
    /// <param name="devicePath">Device node as this process sees it.</param>
    /// <param name="deviceNumber">"major:minor" the node must have; a stale or made-up node is refused.</param>
    public static ExclusiveOutcome Probe(string devicePath, string? deviceNumber)
    {
        using FileHandle? device = Open(devicePath, deviceNumber, OpenFlags.Exclusive, out ExclusiveOutcome outcome);
        return outcome;
    }

    /// <summary>Opens the node for reading if it is the device meant.</summary>
    internal static FileHandle? Open(string path, string? number, int flags, out ExclusiveOutcome outcome)
    {
        PathProbe probe = PathProbe.Of(path);
        if (probe.Kind != PathKind.BlockDevice || (number is not null && probe.DeviceNumber != number))
        {
            outcome = new ExclusiveOutcome(ExclusiveState.NotTheDevice, probe.DeviceNumber ?? "no block device node");
            return null;
        }

        FileHandle? device = FileHandle.TryOpen(path, OpenFlags.ReadOnly | OpenFlags.NonBlocking | flags, out int errno);
        outcome = device is not null ? new ExclusiveOutcome(ExclusiveState.Free, "") : new ExclusiveOutcome(
            errno switch
            {
                Errno.Busy => ExclusiveState.Busy,
                Errno.NotPermitted or Errno.AccessDenied => ExclusiveState.NoPermission,
                _ => ExclusiveState.Failed,
            },
            Marshal.GetPInvokeErrorMessage(errno));
        return device;
    }
}
