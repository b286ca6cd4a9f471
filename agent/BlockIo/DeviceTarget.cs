using System.Runtime.InteropServices;
using Cardassay.Trials;

namespace Cardassay.Agent.BlockIo;

/// <summary>
/// A whole block device, past the page cache. Writing destroys what is on it: whether it may be opened for writing is decided
/// before, by the guard; this class only refuses what the kernel refuses.
/// </summary>
public sealed class DeviceTarget : FileTarget
{
    private DeviceTarget(SafeHandle file, string path, long sizeBytes, int logicalBlockBytes, bool canWrite)
        : base(file, path, sizeBytes, logicalBlockBytes, canWrite)
    {
    }

    /// <inheritdoc/>
    public override TargetKind Kind => TargetKind.Device;

    /// <inheritdoc/>
    public override bool IsFile => false;

    /// <summary>Opens a device. For writing it is opened exclusively, which the kernel refuses while it is mounted or held.</summary>
    /// <param name="path">The device node.</param>
    /// <param name="forWriting">False opens it for reading only, mounted or not.</param>
    /// <param name="isHeld">True when this process holds it already (<see cref="ExclusiveOpen"/>), which grants no
    /// second exclusive open.</param>
    /// <exception cref="TargetException">It cannot be opened, or is no block device.</exception>
    public static DeviceTarget Open(string path, bool forWriting, bool isHeld = false)
    {
        int exclusive = isHeld ? 0 : OpenFlags.Exclusive;
        int flags = OpenFlags.Direct | (forWriting ? OpenFlags.ReadWrite | exclusive : OpenFlags.ReadOnly);
        if (FileHandle.TryOpen(path, flags, out int errno) is { } file)
        {
            return FromHandle(file, path, forWriting);
        }

        throw Refusal(path, errno);
    }

    /// <summary>
    /// Takes over a descriptor that was opened with O_DIRECT; it is closed with the target, and at once when this throws.
    /// </summary>
    /// <exception cref="TargetException">It is no block device, or cannot be written although it should.</exception>
    public static DeviceTarget FromHandle(SafeHandle file, string path, bool forWriting)
    {
        ulong size = 0;
        ulong block = 0;
        if (Libc.Ioctl(file, Libc.BlockSizeBytesGet, ref size) < 0 || Libc.Ioctl(file, Libc.BlockSectorSizeGet, ref block) < 0)
        {
            int errno = Marshal.GetLastPInvokeError();
            file.Dispose();
            throw errno is Errno.NotATerminal or Errno.Invalid
                ? new TargetException(TargetErrorKind.WrongKind,
                    $"{path} is no block device; give a device such as /dev/mmcblk0, or a folder on the card.")
                : Refusal(path, errno);
        }

        if (size == 0)
        {
            file.Dispose();
            throw new TargetException(TargetErrorKind.NoMedium, $"{path} has no medium; put a card into it.");
        }

        if (forWriting && IsReadOnly(file))
        {
            file.Dispose();
            throw ReadOnly(path);
        }

        // Only whole 4,096-byte blocks are used; a device of 512-byte blocks may end with a few that are not.
        return new DeviceTarget(file, path, (long)(size - (size % 4096)), (int)(uint)block, forWriting);
    }

    /// <inheritdoc/>
    public override bool IsGone()
    {
        ulong size = 0;
        return Libc.Ioctl(File, Libc.BlockSizeBytesGet, ref size) < 0 || size == 0;
    }

    private static bool IsReadOnly(SafeHandle file)
    {
        ulong readOnly = 0;
        return Libc.Ioctl(file, Libc.BlockReadOnlyGet, ref readOnly) == 0 && (uint)readOnly != 0;
    }

    private static TargetException ReadOnly(string path) =>
        new(TargetErrorKind.ReadOnly,
            $"{path} is read-only; take off the write protection of card or adapter, or use a plan that only reads.");

    private static TargetException Refusal(string path, int errno)
    {
        // The kernel answers "permission denied" for a read-only device too.
        if (errno is Errno.AccessDenied or Errno.NotPermitted && FileHandle.TryOpen(path, OpenFlags.ReadOnly, out _) is { } probe)
        {
            using (probe)
            {
                if (IsReadOnly(probe))
                {
                    return ReadOnly(path);
                }
            }
        }

        return errno switch
        {
            Errno.NoEntry or Errno.NotDirectory => new(TargetErrorKind.NotFound, $"{path} does not exist; list the devices with lsblk."),
            Errno.AccessDenied or Errno.NotPermitted => new(TargetErrorKind.NoPermission,
                $"{path} may not be opened by this user; run as root or as a member of the group that owns it."),
            Errno.Busy => new(TargetErrorKind.InUse, $"{path} is mounted or held by another program; unmount it or end that program."),
            Errno.ReadOnlyFileSystem => ReadOnly(path),
            Errno.NoMedium or Errno.NoDevice or Errno.NoSuchDeviceOrAddress =>
                new(TargetErrorKind.NoMedium, $"{path} has no medium; put a card into it."),
            Errno.Invalid => new(TargetErrorKind.NoDirectIo, $"{path} does not take direct I/O; give the block device itself."),
            _ => new(TargetErrorKind.Other, $"{path} cannot be opened: {Errno.Text(errno)}; correct that and try again."),
        };
    }
}
