using System.Runtime.InteropServices;
using Cardassay.Registers;
using Microsoft.Win32.SafeHandles;

namespace Cardassay.Agent.BlockIo;

/// <summary>
/// Reads a small file whole. Never blocks on a pipe, never takes more than a limit, never throws for what a machine may
/// answer: a missing file is absent, every other refusal is unreadable with the kernel's reason.
/// </summary>
public static partial class BoundedRead
{
    private const int NoEntry = 2, Interrupted = 4, NotAFolder = 20;

    // Equal on x86-64 and arm64 (asm-generic/fcntl.h): O_RDONLY | O_NOCTTY | O_NONBLOCK | O_CLOEXEC.
    private const int ReadFlags = 0x100 | 0x800 | 0x80000;

    /// <summary>The bytes of the file.</summary>
    /// <param name="path">A path as this process sees it.</param>
    /// <param name="limitBytes">Longest content accepted; a longer file is unreadable, never cut in silence.</param>
    public static Reading<byte[]> Read(string path, int limitBytes)
    {
        PathProbe probe = PathProbe.Of(path);
        switch (probe.Kind)
        {
            case PathKind.Nothing when probe.Errno is NoEntry or NotAFolder:
                return Reading<byte[]>.Absent();
            case PathKind.Nothing:
                return Reading<byte[]>.Unreadable(Words(probe.Errno));
            case PathKind.Folder:
                return Reading<byte[]>.Unreadable("it is a folder, not a file");
            case PathKind.BlockDevice or PathKind.Other:
                return Reading<byte[]>.Unreadable("it is not a regular file");
        }

        using SafeFileHandle file = Open(path, ReadFlags);
        if (file.IsInvalid)
        {
            int errno = Marshal.GetLastPInvokeError();
            return errno is NoEntry or NotAFolder ? Reading<byte[]>.Absent() : Reading<byte[]>.Unreadable(Words(errno));
        }

        return ReadToEnd(file, limitBytes);
    }

    private static unsafe Reading<byte[]> ReadToEnd(SafeFileHandle file, int limitBytes)
    {
        byte[] buffer = new byte[Math.Min(4096, limitBytes + 1)];
        int held = 0;
        while (true)
        {
            if (held == buffer.Length)
            {
                Array.Resize(ref buffer, (int)Math.Min(buffer.Length * 4L, limitBytes + 1L));
            }

            nint got;
            fixed (byte* start = &buffer[held])
            {
                got = ReadSome(file, start, (nuint)(buffer.Length - held));
            }

            if (got == 0)
            {
                return Reading<byte[]>.Known(buffer.AsSpan(0, held).ToArray());
            }

            if (got < 0)
            {
                int errno = Marshal.GetLastPInvokeError();
                if (errno == Interrupted)
                {
                    continue;
                }

                return Reading<byte[]>.Unreadable(Words(errno));
            }

            held += (int)got;
            if (held > limitBytes)
            {
                return Reading<byte[]>.Unreadable(string.Create(
                    System.Globalization.CultureInfo.InvariantCulture, $"it is longer than {limitBytes} bytes"));
            }
        }
    }

    private static string Words(int errno) => Marshal.GetPInvokeErrorMessage(errno);

    [LibraryImport("libc", EntryPoint = "open", SetLastError = true, StringMarshalling = StringMarshalling.Utf8)]
    private static partial SafeFileHandle Open(string path, int flags);

    [LibraryImport("libc", EntryPoint = "read", SetLastError = true)]
    private static unsafe partial nint ReadSome(SafeFileHandle file, byte* buffer, nuint count);
}
