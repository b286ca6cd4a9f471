using System.Runtime.InteropServices;
using Microsoft.Win32.SafeHandles;

namespace Cardassay.Agent.BlockIo;

/// <summary>
/// Holds a whole block device for ourselves: opened with O_EXCL, which the kernel grants to one claimant only (a mounted
/// file system, swap, device-mapper, RAID and every formatting tool claim it the same way, in any mount namespace), and with
/// an exclusive `flock`, which keeps the device manager from probing it. Other descriptors of this process may be opened
/// beside it without O_EXCL.
/// </summary>
public sealed partial class ExclusiveOpen : IDisposable
{
    // Equal on x86-64 and arm64 (asm-generic/fcntl.h): O_EXCL | O_NONBLOCK | O_CLOEXEC.
    private const int Flags = 0x80 | 0x800 | 0x80000;
    private const int ForWriting = 2;
    private const int LockExclusiveNow = 2 | 4;
    private const int WouldBlock = 11;

    private readonly SafeFileHandle _device;

    private ExclusiveOpen(SafeFileHandle device) => _device = device;

    /// <summary>Whether somebody else holds the device. Opens it for reading only and lets go at once.</summary>
    /// <param name="devicePath">Device node as this process sees it.</param>
    /// <param name="deviceNumber">"major:minor" the node must have; a stale or made-up node is refused.</param>
    public static ExclusiveOutcome Probe(string devicePath, string? deviceNumber)
    {
        using SafeFileHandle? device = OpenChecked(devicePath, deviceNumber, 0, out ExclusiveOutcome outcome);
        return outcome;
    }

    /// <summary>Opens and locks the device until disposed; null with the outcome when it cannot be had.</summary>
    /// <param name="devicePath">Device node as this process sees it.</param>
    /// <param name="deviceNumber">"major:minor" the node must have.</param>
    /// <param name="outcome">What happened.</param>
    /// <param name="cancel">Ends the waiting for a device manager that is just probing, at most two seconds.</param>
    public static ExclusiveOpen? Hold(
        string devicePath, string? deviceNumber, out ExclusiveOutcome outcome, CancellationToken cancel = default)
    {
        SafeFileHandle? device = OpenChecked(devicePath, deviceNumber, ForWriting, out outcome);
        if (device is null)
        {
            return null;
        }

        // A device manager holds its shared lock for the moment of a probe only.
        for (int attempt = 0; attempt < 40 && !cancel.IsCancellationRequested; attempt++)
        {
            if (Flock(device, LockExclusiveNow) == 0)
            {
                return new ExclusiveOpen(device);
            }

            int errno = Marshal.GetLastPInvokeError();
            if (errno != WouldBlock)
            {
                outcome = new ExclusiveOutcome(ExclusiveState.Failed, Marshal.GetPInvokeErrorMessage(errno));
                device.Dispose();
                return null;
            }

            cancel.WaitHandle.WaitOne(50);
        }

        device.Dispose();
        outcome = new ExclusiveOutcome(ExclusiveState.Busy, "another process keeps it locked");
        return null;
    }

    /// <summary>Lets go of the device.</summary>
    public void Dispose() => _device.Dispose();

    private static SafeFileHandle? OpenChecked(string path, string? number, int access, out ExclusiveOutcome outcome)
    {
        PathProbe probe = PathProbe.Of(path);
        if (probe.Kind != PathKind.BlockDevice || (number is not null && probe.DeviceNumber != number))
        {
            outcome = new ExclusiveOutcome(ExclusiveState.NotTheDevice, probe.DeviceNumber ?? "no block device node");
            return null;
        }

        SafeFileHandle device = Open(path, Flags | access);
        if (!device.IsInvalid)
        {
            outcome = new ExclusiveOutcome(ExclusiveState.Free, "");
            return device;
        }

        int errno = Marshal.GetLastPInvokeError();
        device.Dispose();
        outcome = new ExclusiveOutcome(
            errno switch
            {
                16 => ExclusiveState.Busy,
                1 or 13 => ExclusiveState.NoPermission,
                30 => ExclusiveState.ReadOnly,
                _ => ExclusiveState.Failed,
            },
            Marshal.GetPInvokeErrorMessage(errno));
        return null;
    }

    [LibraryImport("libc", EntryPoint = "open", SetLastError = true, StringMarshalling = StringMarshalling.Utf8)]
    private static partial SafeFileHandle Open(string path, int flags);

    [LibraryImport("libc", EntryPoint = "flock", SetLastError = true)]
    private static partial int Flock(SafeFileHandle file, int operation);
}
