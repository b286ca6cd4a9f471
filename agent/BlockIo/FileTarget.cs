using System.Runtime.CompilerServices;
using System.Runtime.InteropServices;
using Cardassay.Trials;

namespace Cardassay.Agent.BlockIo;

/// <summary>Transfers through a file descriptor: interrupted calls are repeated and short ones continued.</summary>
public abstract class FileTarget : IBlockTarget
{
    private readonly SafeHandle _file;
    private readonly int _fileDescriptor;
    private bool _isAbandoned;

    private protected FileTarget(SafeHandle file, string path, long sizeBytes, int logicalBlockBytes, bool canWrite)
    {
        _file = file;

        // One reference for the life of the target instead of one per transfer: counting it up and down from several threads costs
        // more than the call itself. The descriptor cannot be closed before Dispose.
        bool isReferenced = false;
        file.DangerousAddRef(ref isReferenced);
        _fileDescriptor = (int)file.DangerousGetHandle();
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
            nint got = Libc.Pread(_fileDescriptor, buffer + done, lengthBytes - done, offsetBytes + done);
            if (got > 0)
            {
                done += (int)got;
            }
            else if (got == 0)
            {
                return Errno.NoData;
            }
            else if (Marshal.GetLastSystemError() is var errno && errno != Errno.Interrupted)
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
            nint put = Libc.Pwrite(_fileDescriptor, buffer + done, lengthBytes - done, offsetBytes + done);
            if (put > 0)
            {
                done += (int)put;
            }
            else if (put == 0)
            {
                return Errno.NoSpace;
            }
            else if (Marshal.GetLastSystemError() is var errno && errno != Errno.Interrupted)
            {
                return errno;
            }
        }

        return 0;
    }

    /// <inheritdoc/>
    public int Flush()
    {
        while (Libc.Fdatasync(_fileDescriptor) != 0)
        {
            int errno = Marshal.GetLastPInvokeError();
            if (errno != Errno.Interrupted)
            {
                return errno;
            }
        }

        return 0;
    }

    /// <summary>What the open descriptor shows now of what is behind it.</summary>
    public OpenedDevice Opened() => OpenedDevice.Of(_file);

    /// <inheritdoc/>
    public virtual int DropExtension() => 0;

    /// <inheritdoc/>
    public virtual bool IsGone() => false;

    /// <inheritdoc/>
    public void Abandon() => _isAbandoned = true;

    /// <inheritdoc/>
    public void Dispose()
    {
        if (!_isAbandoned && !_file.IsClosed)
        {
            _file.DangerousRelease();
            _file.Dispose();
        }

        GC.SuppressFinalize(this);
    }
}
