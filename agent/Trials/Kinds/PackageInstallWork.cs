using System.Runtime.InteropServices;
using System.Text;
using Cardassay.Agent.BlockIo;

namespace Cardassay.Agent.Trials.Kinds;

/// <summary>
/// One operation is one file of a package: made under a new name, written, made durable with fsync, renamed over its old self; after
/// every fifty files the folder is made durable too. 500 files of 4 to 256 KiB, then again from the first. Models what package managers
/// do so that a power cut leaves the old file or the new one (common practice, no source). Goes through the page cache, as they do; what
/// is timed is only over when it is on the card.
/// </summary>
internal sealed class PackageInstallWork : TrialWork
{
    private const int Files = 500;
    private const int FilesPerFolderSync = 50;
    private const int PageBytes = 4 << 10;
    private const uint OwnerOnly = 0x180;

    private readonly string _folder;
    private readonly FileHandle _handle;
    private readonly byte[][] _names = [.. Enumerable.Range(0, Files).Select(i => Name($"file-{i:000}"))];
    private readonly byte[][] _newNames = [.. Enumerable.Range(0, Files).Select(i => Name($"file-{i:000}.new"))];
    private long _turn = -1;
    private int _lengthBytes;

    public PackageInstallWork(SlotContext context)
        : base(context)
    {
        _folder = Path.Combine(context.Target.Path, $".cardassay-install-{Environment.ProcessId}-{Guid.NewGuid():N}");
        Directory.CreateDirectory(_folder);
        _handle = FileHandle.TryOpen(_folder, OpenFlags.ReadOnly, out int errno)
            ?? throw new TargetException(TargetErrorKind.Other, $"{_folder} cannot be opened: {Errno.Text(errno)}.");
    }

    public override long BytesPerOperation => _lengthBytes;

    public override bool Prepare()
    {
        if (!TakeTurn())
        {
            return false;
        }

        _turn++;
        OffsetBytes = _turn % Files;
        _lengthBytes = (int)(1 + Context.Random.Below(Spec.BlockBytes / PageBytes)) * PageBytes;
        return true;
    }

    public override int Execute()
    {
        int folder = (int)_handle.DangerousGetHandle();
        byte[] newName = _newNames[OffsetBytes];
        int file = Libc.Openat(folder, newName,
            OpenFlags.WriteOnly | OpenFlags.Create | OpenFlags.Truncate | OpenFlags.CloseOnExec, OwnerOnly);
        if (file < 0)
        {
            return Marshal.GetLastSystemError();
        }

        int errno = Write(file);
        _ = Libc.Close(file);
        if (errno == 0 && Libc.Renameat(folder, newName, folder, _names[OffsetBytes]) != 0)
        {
            errno = Marshal.GetLastSystemError();
        }

        return errno == 0 && _turn % FilesPerFolderSync == FilesPerFolderSync - 1 ? Sync(folder) : errno;
    }

    public override void Complete()
    {
    }

    public override void Dispose()
    {
        _handle.Dispose();
        try
        {
            Directory.Delete(_folder, recursive: true);
        }
        catch (IOException)
        {
            // A card that is gone takes its files with it; one that fails has said so in the trial.
        }
    }

    private int Write(int file)
    {
        int done = 0;
        while (done < _lengthBytes)
        {
            nint put = Libc.Pwrite(file, Context.Filler + done, _lengthBytes - done, done);
            if (put <= 0)
            {
                int errno = put == 0 ? Errno.NoSpace : Marshal.GetLastSystemError();
                if (errno != Errno.Interrupted)
                {
                    return errno;
                }

                continue;
            }

            done += (int)put;
        }

        return Sync(file);
    }

    private static int Sync(int file) => Libc.Fsync(file) == 0 ? 0 : Marshal.GetLastSystemError();

    private static byte[] Name(string name) => [.. Encoding.UTF8.GetBytes(name), 0];
}
