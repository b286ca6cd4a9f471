using System.Globalization;
using System.Runtime.InteropServices;

namespace Cardassay.Agent.BlockIo;

/// <summary>What kind of thing a path leads to.</summary>
public enum PathKind
{
    /// <summary>Nothing is there, or it cannot be reached.</summary>
    Nothing = 0,

    /// <summary>A regular file.</summary>
    File = 1,

    /// <summary>A folder.</summary>
    Folder = 2,

    /// <summary>A block device node.</summary>
    BlockDevice = 3,

    /// <summary>A pipe, socket or character device: never opened for reading, it could block or have side effects.</summary>
    Other = 4,
}

/// <summary>
/// Asks the kernel what a path is without opening it (statx, Linux 4.11): opening a pipe would block, opening a device
/// node may do things to the device.
/// </summary>
/// <param name="Kind">What it is, links followed.</param>
/// <param name="DeviceNumber">"major:minor" of a block device node, else null.</param>
/// <param name="ErrorNumber">Why nothing is there (ENOENT and so on), else 0.</param>
public readonly record struct PathProbe(PathKind Kind, string? DeviceNumber, int ErrorNumber)
{
    /// <summary>Probes one path, links followed.</summary>
    public static unsafe PathProbe Of(string path)
    {
        // The C library would take the part before a zero character for the whole path.
        if (path.Contains('\0'))
        {
            return new PathProbe(PathKind.Nothing, null, Errno.NoEntry);
        }

        // stx_mode at 28 (u16), stx_rdev_major at 128, stx_rdev_minor at 132 (u32).
        byte* status = stackalloc byte[Libc.StatxBytes];
        if (Libc.Statx(Libc.CurrentFolder, path, 0, Libc.StatxType, status) != 0)
        {
            return new PathProbe(PathKind.Nothing, null, Marshal.GetLastPInvokeError());
        }

        ushort type = (ushort)(*(ushort*)(status + 28) & 0xF000);
        uint major = *(uint*)(status + 128);
        uint minor = *(uint*)(status + 132);
        return type switch
        {
            0x8000 => new PathProbe(PathKind.File, null, 0),
            0x4000 => new PathProbe(PathKind.Folder, null, 0),
            0x6000 => new PathProbe(PathKind.BlockDevice, string.Create(CultureInfo.InvariantCulture, $"{major}:{minor}"), 0),
            _ => new PathProbe(PathKind.Other, null, 0),
        };
    }
}
