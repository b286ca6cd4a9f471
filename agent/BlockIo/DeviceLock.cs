using System.Runtime.InteropServices;

namespace Cardassay.Agent.BlockIo;

/// <summary>
/// An exclusive `flock` on a whole disk, held during a run: the device manager takes a shared one before it probes a device
/// and stays away while it cannot have it (systemd, "Locking Block Device Access"). It does not hinder other descriptors
/// that do not lock; beware that .NET's own file streams do.
/// </summary>
public sealed class DeviceLock : IDisposable
{
    private const int Attempts = 40;
    private const int PauseMs = 50;

    private readonly FileHandle _device;

    private DeviceLock(FileHandle device) => _device = device;

    /// <summary>
    /// Takes the lock; waits up to two seconds, since a device manager holds its own for the moment of a probe only. Null
    /// with the outcome when it cannot be had. The device is opened for reading, which stirs no device manager when closed.
    /// </summary>
    /// <param name="devicePath">Node of the whole disk as this process sees it.</param>
    /// <param name="deviceNumber">"major:minor" the node must have, or null to take any.</param>
    /// <param name="outcome">What happened.</param>
    /// <param name="cancel">Ends the waiting.</param>
    public static DeviceLock? TryTake(
        string devicePath, string? deviceNumber, out ExclusiveOutcome outcome, CancellationToken cancel = default)
    {
        FileHandle? device = ExclusiveOpen.Open(devicePath, deviceNumber, 0, out outcome);
        if (device is null)
        {
            return null;
        }

        for (int attempt = 0; attempt < Attempts; attempt++)
        {
            if (Libc.Flock(device, Libc.LockExclusiveNow) == 0)
            {
                outcome = new ExclusiveOutcome(ExclusiveState.Free, "");
                return new DeviceLock(device);
            }

            int errno = Marshal.GetLastPInvokeError();
            outcome = errno is Errno.WouldBlock or Errno.Interrupted
                ? new ExclusiveOutcome(ExclusiveState.Busy, "another process keeps it locked")
                : new ExclusiveOutcome(ExclusiveState.Failed, Marshal.GetPInvokeErrorMessage(errno));
            if (outcome.State == ExclusiveState.Failed || cancel.WaitHandle.WaitOne(PauseMs))
            {
                break;
            }
        }

        device.Dispose();
        return null;
    }

    /// <summary>Gives the lock back.</summary>
    public void Dispose() => _device.Dispose();
}
