using System.Globalization;
using System.Runtime.InteropServices;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Agent.BlockIo;

/// <summary>
/// A scratch file in a folder of a mounted file system, past the page cache. It touches nothing else in the folder. The name is
/// taken away as soon as the file is open, so that the kernel frees the space however the program ends, power loss included.
/// </summary>
public sealed class FolderTarget : FileTarget
{
    /// <summary>Left free on the file system, bytes: a full system disk would hurt the board.</summary>
    private const long KeptFreeBytes = 16 << 20;

    private FolderTarget(SafeHandle file, string folder, long sizeBytes)
        : base(file, folder, sizeBytes, logicalBlockBytes: 4096, canWrite: true)
    {
    }

    /// <inheritdoc/>
    public override TargetKind Kind => TargetKind.Folder;

    /// <inheritdoc/>
    public override bool IsFile => true;

    /// <summary>Makes the scratch file. Its blocks are reserved but not yet written: the run does that before the first trial.</summary>
    /// <param name="folder">An existing folder.</param>
    /// <param name="sizeBytes">Bytes of the file, a multiple of 4,096.</param>
    /// <param name="whyNot">Asked of the open folder before anything is made in it: why it is not the one meant,
    /// as a sentence, or null.</param>
    /// <exception cref="TargetException">The folder cannot be used.</exception>
    public static FolderTarget Create(string folder, long sizeBytes, Func<OpenedDevice, string?>? whyNot = null)
    {
        string full = System.IO.Path.GetFullPath(folder);
        using FileHandle opened = FileHandle.TryOpen(full, OpenFlags.ReadOnly | OpenFlags.NonBlocking, out int openErrno)
            ?? throw Refusal(full, sizeBytes, openErrno);
        if (whyNot?.Invoke(OpenedDevice.Of(opened)) is { } problem)
        {
            throw new TargetException(TargetErrorKind.Other, problem);
        }

        Span<long> statistics = stackalloc long[64];
        if (Libc.Statfs(full, statistics) != 0)
        {
            throw Refusal(full, sizeBytes, Marshal.GetLastPInvokeError());
        }

        if (statistics[0] is Libc.TmpfsMagic or Libc.RamfsMagic)
        {
            throw new TargetException(TargetErrorKind.InMemory, $"{full} lies in memory, not on a card; give a folder on the card.");
        }

        string name = string.Create(CultureInfo.InvariantCulture, $".cardassay-scratch-{Environment.ProcessId}-{Guid.NewGuid():N}");
        int flags = OpenFlags.Create | OpenFlags.Exclusive | OpenFlags.ReadWrite | OpenFlags.Direct;
        FileHandle file = FileHandle.TryOpenIn(opened, name, flags, out int errno)
            ?? throw OpenRefusal(opened, full, name, sizeBytes, errno);
        _ = Libc.Unlinkat(opened, name, 0);
        var target = new FolderTarget(file, full, sizeBytes);
        errno = target.Reserve();
        if (errno == 0)
        {
            return target;
        }

        target.Dispose();
        throw Refusal(full, sizeBytes, errno);
    }

    /// <summary>
    /// Why no scratch file of this size can be made in a folder, as a sentence; null when nothing
    /// speaks against it. Writes nothing.
    /// </summary>
    /// <param name="folder">The folder.</param>
    /// <param name="sizeBytes">Bytes of the file.</param>
    public static string? WhyUnusable(string folder, long sizeBytes)
    {
        Span<long> statistics = stackalloc long[64];
        if (Libc.Statfs(folder, statistics) != 0)
        {
            return Refusal(folder, sizeBytes, Marshal.GetLastPInvokeError()).Message;
        }

        return statistics[0] is Libc.TmpfsMagic or Libc.RamfsMagic ? $"{folder} lies in memory, not on a card; give a folder on the card."
            : Libc.WhyNotWritable(folder) is > 0 and var errno ? Refusal(folder, sizeBytes, errno).Message
            : new DriveInfo(folder).AvailableFreeSpace < sizeBytes + KeptFreeBytes ? Refusal(folder, sizeBytes, Errno.NoSpace).Message
            : null;
    }

    /// <inheritdoc/>
    public override int DropExtension() => Libc.Ftruncate(File, SizeBytes) == 0 ? 0 : Marshal.GetLastPInvokeError();

    private int Reserve()
    {
        // Asked before, because a file system that cannot reserve would only fail in the middle of a trial.
        if (new DriveInfo(Path).AvailableFreeSpace < SizeBytes + KeptFreeBytes)
        {
            return Errno.NoSpace;
        }

        int errno;
        do
        {
            errno = Libc.Fallocate(File, 0, 0, SizeBytes) == 0 ? 0 : Marshal.GetLastPInvokeError();
        }
        while (errno == Errno.Interrupted);
        return errno is Errno.NotSupported or Errno.Invalid
            ? Libc.Ftruncate(File, SizeBytes) == 0 ? 0 : Marshal.GetLastPInvokeError()
            : errno;
    }

    private static TargetException OpenRefusal(FileHandle opened, string folder, string name, long sizeBytes, int errno)
    {
        if (errno is not (Errno.Invalid or Errno.NotSupported))
        {
            return Refusal(folder, sizeBytes, errno);
        }

        // Some file systems create the name before they refuse O_DIRECT.
        _ = Libc.Unlinkat(opened, name, 0);
        return new TargetException(
            TargetErrorKind.NoDirectIo,
            $"The file system of {folder} does not take direct I/O, so that every figure would be that of the page cache; "
                + "give a folder on a file system of the card itself.");
    }

    private static TargetException Refusal(string folder, long sizeBytes, int errno) => errno switch
    {
        Errno.NoEntry => new(TargetErrorKind.NotFound, $"{folder} does not exist; create it on the card."),
        Errno.NotDirectory => new(TargetErrorKind.WrongKind, $"{folder} is no folder; give a folder on the card."),
        Errno.AccessDenied or Errno.NotPermitted =>
            new(TargetErrorKind.NoPermission,
                $"{Environment.UserName} may not write in {folder}: on the board, sudo chown {Environment.UserName} {folder} (FAT: "
                    + $"mount it with uid={Environment.UserName}), or give another folder on the card."),
        Errno.ReadOnlyFileSystem => new(TargetErrorKind.ReadOnly,
            $"{folder} is on a read-only file system; mount it writable, or measure the device with a plan that only reads."),
        Errno.NoSpace or Errno.QuotaExceeded or Errno.FileTooLarge => new(
            TargetErrorKind.NoSpace,
            $"There is no room in {folder} for a scratch file of {ByteText.Of(sizeBytes)}; free some space, "
                + "or give a plan with a smaller regionBytes."),
        _ => new(TargetErrorKind.Other, $"{folder} cannot be used: {Errno.Text(errno)}; correct that and try again."),
    };
}
