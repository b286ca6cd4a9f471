using System.Runtime.CompilerServices;
using System.Runtime.InteropServices;
using Cardassay.Trials;

namespace Cardassay.Agent.BlockIo;

/// <summary>Transfers through a file descriptor: interrupted calls are repeated and short ones continued.</summary>
public abstract class FileTarget : IBlockTarget
{
    private readonly SafeHandle _file;

    private protected FileTarget(SafeHandle file, string path, long sizeBytes, int logicalBlockBytes, bool canWrite)
    {
        _file = file;
        Path = path;
        SizeBytes = sizeBytes;
        LogicalBlockBytes = logicalBlockBytes;
        CanWrite = canWrite;
    }

    /// <inheritdoc/>
    public abstract TargetKind Kind { get; }

    /// <inheritdoc/>
    public abstract bool IsFile { get; }

    /// <inheritdoc/>
    public string Path { get; }

    /// <inheritdoc/>
    public long SizeBytes { get; }

    /// <inheritdoc/>
    public int LogicalBlockBytes { get; }

    /// <inheritdoc/>
    public bool CanWrite { get; }

    private protected SafeHandle File => _file;

    /// <inheritdoc/>
    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public int Read(long offsetBytes, nint buffer, int lengthBytes)
    {
        int done = 0;
        while (done < lengthBytes)
        {
            nint got = Libc.Pread(_file, buffer + done, lengthBytes - done, offsetBytes + done);
            if (got > 0)
            {
                done += (int)got;
            }
            else if (got == 0)
            {
                return Errno.NoData;
            }
            else if (Marshal.GetLastPInvokeError() is var errno && errno != Errno.Interrupted)
            {
                return errno;
            }
        }

        return 0;
    }

    /// <inheritdoc/>
    [MethodImpl(MethodImplOptions.AggressiveOptimization)]
    public int Write(long offsetBytes, nint buffer, int lengthBytes)
    {
        int done = 0;
        while (done < lengthBytes)
        {
            nint put = Libc.Pwrite(_file, buffer + done, lengthBytes - done, offsetBytes + done);
            if (put > 0)
            {
                done += (int)put;
            }
            else if (put == 0)
            {
                return Errno.NoSpace;
            }
            else if (Marshal.GetLastPInvokeError() is var errno && errno != Errno.Interrupted)
            {
                return errno;
            }
        }

        return 0;
    }

    /// <inheritdoc/>
    public int Flush()
    {
        while (Libc.Fdatasync(_file) != 0)
        {
            int errno = Marshal.GetLastPInvokeError();
            if (errno != Errno.Interrupted)
            {
                return errno;
            }
        }

        return 0;
    }

    /// <inheritdoc/>
    public virtual int DropExtension() => 0;

    /// <inheritdoc/>
    public virtual bool IsGone() => false;

    /// <inheritdoc/>
    public void Dispose()
    {
        _file.Dispose();
        GC.SuppressFinalize(this);
    }
}
