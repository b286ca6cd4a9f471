using System.Globalization;
using System.Runtime.InteropServices;

namespace Cardassay.Agent.BlockIo;

/// <summary>
/// What an open descriptor says of what is behind it. Under the name of a node or a folder something else can be put at any moment; a
/// descriptor stays with what was opened.
/// </summary>
/// <param name="Number">"major:minor" of a block device; of anything else that of the file system it lies on.</param>
/// <param name="DiskSequence">Number the kernel gives to every medium it meets, never twice (BLKGETDISKSEQ, Linux 5.15);
/// null where it gives none.</param>
/// <param name="SizeBytes">Bytes of a block device (BLKGETSIZE64), else 0.</param>
public sealed record OpenedDevice(string? Number, long? DiskSequence, long SizeBytes)
{
    /// <summary>Asks a descriptor; the medium is not touched.</summary>
    internal static OpenedDevice Of(SafeHandle file)
    {
        bool isReferenced = false;
        file.DangerousAddRef(ref isReferenced);
        try
        {
            ulong sequence = 0;
            ulong size = 0;
            bool hasSequence = Libc.Ioctl(file, Libc.BlockDiskSequenceGet, ref sequence) == 0;
            _ = Libc.Ioctl(file, Libc.BlockSizeBytesGet, ref size);
            return new OpenedDevice(NumberOf((int)file.DangerousGetHandle(), "", Libc.OfTheDescriptor),
                hasSequence ? (long)sequence : null, (long)size);
        }
        finally
        {
            file.DangerousRelease();
        }
    }

    /// <summary>"major:minor" of the file system a folder or file lies on, links followed; null when there is no such path.</summary>
    internal static string? FileSystemOf(string path) => NumberOf(Libc.CurrentFolder, path, 0);

    private static unsafe string? NumberOf(int folder, string path, int flags)
    {
        // stx_mode at 28 (u16), stx_rdev_major and minor at 128, stx_dev_major and minor at 136 (u32).
        byte* status = stackalloc byte[Libc.StatxBytes];
        if (Libc.Statx(folder, path, flags, Libc.StatxType, status) != 0)
        {
            return null;
        }

        bool isBlockDevice = (*(ushort*)(status + 28) & 0xF000) == 0x6000;
        byte* number = status + (isBlockDevice ? 128 : 136);
        return string.Create(CultureInfo.InvariantCulture, $"{*(uint*)number}:{*(uint*)(number + 4)}");
    }
}
