using System.Globalization;
using System.Runtime.InteropServices;
using Cardassay.Registers;

namespace Cardassay.Agent.BlockIo;

/// <summary>
/// Reads a small file whole. Never blocks on a pipe, never takes more than a limit, never throws for what a machine may
/// answer: a missing file is absent, every other refusal is unreadable with the kernel's reason.
/// </summary>
public static class BoundedRead
{
    /// <summary>The bytes of the file.</summary>
    /// <param name="path">A path as this process sees it.</param>
    /// <param name="limitBytes">Longest content accepted; a longer file is unreadable, never cut in silence.</param>
    public static Reading<byte[]> Read(string path, int limitBytes)
    {
        PathProbe probe = PathProbe.Of(path);
        switch (probe.Kind)
        {
            case PathKind.Nothing:
                return Failed(probe.ErrorNumber);
            case PathKind.Folder:
                return Reading<byte[]>.Unreadable("it is a folder, not a file");
            case PathKind.BlockDevice or PathKind.Other:
                return Reading<byte[]>.Unreadable("it is not a regular file");
        }

        // Should a pipe have taken the place of the file in between, opening it still does not wait.
        using FileHandle? file = FileHandle.TryOpen(
            path, OpenFlags.ReadOnly | OpenFlags.NonBlocking | OpenFlags.NoControllingTerminal, out int errno);
        if (file is null)
        {
            return Failed(errno);
        }

        return ReadToEnd(file, limitBytes);
    }

    private static unsafe Reading<byte[]> ReadToEnd(FileHandle file, int limitBytes)
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
                got = Libc.Read(file, start, (nuint)(buffer.Length - held));
            }

            if (got == 0)
            {
                return Reading<byte[]>.Known(buffer.AsSpan(0, held).ToArray());
            }

            if (got < 0)
            {
                int errno = Marshal.GetLastPInvokeError();
                if (errno == Errno.Interrupted)
                {
                    continue;
                }

                return Reading<byte[]>.Unreadable(Marshal.GetPInvokeErrorMessage(errno));
            }

            held += (int)got;
            if (held > limitBytes)
            {
                return Reading<byte[]>.Unreadable(string.Create(CultureInfo.InvariantCulture, $"it is longer than {limitBytes} bytes"));
            }
        }
    }

    private static Reading<byte[]> Failed(int errno) => errno is Errno.NoEntry or Errno.NotDirectory
        ? Reading<byte[]>.Absent()
        : Reading<byte[]>.Unreadable(Marshal.GetPInvokeErrorMessage(errno));
}
