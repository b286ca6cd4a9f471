using System.Buffers.Binary;
using Google.Protobuf;
using Microsoft.Win32.SafeHandles;

namespace Cardassay.Collector.Intake;

/// <summary>
/// Entries on their way out of a collector, on disk: all of them, of ten years of a laboratory, need not fit into memory. The file has no
/// name that anybody else sees, and is gone with the process, however that ends. Not safe for several threads.
/// </summary>
internal sealed class EntrySpool : IDisposable
{
    private const int BufferBytes = 256 * 1024;
    private const int LengthBytes = 4;

    private readonly FileStream _file;
    private byte[] _one = new byte[4096];
    private long _bytes;

    private EntrySpool(FileStream file) => _file = file;

    /// <summary>Entries so far.</summary>
    internal long Count { get; private set; }

    /// <summary>An empty spool.</summary>
    /// <param name="folder">A folder on a disk with room for everything.</param>
    /// <exception cref="IOException">The folder cannot be used.</exception>
    internal static EntrySpool In(string folder)
    {
        string path = Path.Combine(folder, $"spool-{Guid.NewGuid():N}");
        var options = new FileStreamOptions { Mode = FileMode.CreateNew, Access = FileAccess.ReadWrite, BufferSize = BufferBytes };
        if (OperatingSystem.IsWindows())
        {
            options.Options = FileOptions.DeleteOnClose;
            return new EntrySpool(new FileStream(path, options));
        }

        options.UnixCreateMode = UnixFileMode.UserRead | UnixFileMode.UserWrite;
        var file = new FileStream(path, options);
        File.Delete(path); // it lives on under its handle
        return new EntrySpool(file);
    }

    /// <summary>Adds an entry behind the others.</summary>
    /// <returns>Where it is, for <see cref="At"/>.</returns>
    /// <exception cref="IOException">The disk is full or failed.</exception>
    internal long Add(V1.IntakeEntry entry)
    {
        long at = _bytes;
        int size = entry.CalculateSize();
        if (_one.Length < LengthBytes + size)
        {
            _one = new byte[2 * (LengthBytes + size)];
        }

        BinaryPrimitives.WriteInt32LittleEndian(_one, size);
        entry.WriteTo(_one.AsSpan(LengthBytes, size));
        _file.Write(_one, 0, LengthBytes + size);
        _bytes += LengthBytes + size;
        Count++;
        return at;
    }

    /// <summary>The entry that was added at a place.</summary>
    /// <param name="at">The place.</param>
    /// <param name="behind">Where the one added next is.</param>
    internal V1.IntakeEntry At(long at, out long behind)
    {
        _file.Flush();
        Span<byte> length = stackalloc byte[LengthBytes];
        ReadExactly(length, at);
        int size = BinaryPrimitives.ReadInt32LittleEndian(length);
        if (_one.Length < size)
        {
            _one = new byte[2 * size];
        }

        ReadExactly(_one.AsSpan(0, size), at + LengthBytes);
        behind = at + LengthBytes + size;
        return V1.IntakeEntry.Parser.ParseFrom(_one, 0, size);
    }

    /// <summary>All entries in the order they were added; may be asked for as often as one likes.</summary>
    internal IEnumerable<V1.IntakeEntry> Entries() => Placed().Select(placed => placed.Entry);

    /// <summary>The same, each with where it is, for <see cref="At"/>, and where the next is.</summary>
    internal IEnumerable<(long At, long Behind, V1.IntakeEntry Entry)> Placed()
    {
        long at = 0;
        _file.Flush();
        using var handle = new SafeFileHandle(_file.SafeFileHandle.DangerousGetHandle(), ownsHandle: false);
        using var from = new FileStream(handle, FileAccess.Read, BufferBytes);
        from.Position = 0;
        byte[] length = new byte[LengthBytes];
        byte[] one = [];
        for (long i = 0; i < Count; i++)
        {
            from.ReadExactly(length);
            int size = BinaryPrimitives.ReadInt32LittleEndian(length);
            if (one.Length < size)
            {
                one = new byte[2 * size];
            }

            from.ReadExactly(one, 0, size);
            long behind = at + LengthBytes + size;
            yield return (at, behind, V1.IntakeEntry.Parser.ParseFrom(one, 0, size));
            at = behind;
        }
    }

    private void ReadExactly(Span<byte> into, long at)
    {
        for (int done = 0; done < into.Length;)
        {
            int got = RandomAccess.Read(_file.SafeFileHandle, into[done..], at + done);
            done += got > 0 ? got : throw new EndOfStreamException();
        }
    }

    /// <summary>Gives the room on the disk back.</summary>
    public void Dispose() => _file.Dispose();
}
