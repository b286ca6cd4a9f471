using System.Buffers.Binary;
using System.IO.Compression;
using System.IO.Hashing;
using System.Text;

namespace Cardassay.Collector.Tests.Exchange;

/// <summary>
/// Writes zips byte by byte after PKWARE's APPNOTE 6.3.10, sections 4.3.7 (header of a file), 4.3.9 (descriptor), 4.3.12 (directory) and
/// 4.3.16 (end), so that a test can make the ones no library makes.
/// </summary>
internal sealed class RawZip
{
    private readonly MemoryStream _file = new();
    private readonly List<byte[]> _directory = [];

    /// <summary>Bytes that are no member.</summary>
    internal RawZip Raw(params ReadOnlySpan<byte> bytes)
    {
        _file.Write(bytes);
        return this;
    }

    /// <summary>Adds a member.</summary>
    internal RawZip Add(
        string name, byte[] content, string? nameInHeader = null, bool listed = true, uint external = 0, ushort flags = 0, byte[]? extra = null, long? claims = null,
        byte[]? behindData = null)
    {
        using var packed = new MemoryStream();
        using (var deflate = new DeflateStream(packed, CompressionLevel.Optimal, leaveOpen: true))
        {
            deflate.Write(content);
        }

        packed.Write(behindData ?? []);
        byte[] data = packed.ToArray();
        uint crc = Crc32.HashToUInt32(content);
        uint at = (uint)_file.Position;
        uint bytes = (uint)(claims ?? content.Length);
        bool described = (flags & 8) != 0;
        byte[] inHeader = Encoding.UTF8.GetBytes(nameInHeader ?? name);
        Span<byte> header = stackalloc byte[30];
        BinaryPrimitives.WriteUInt32LittleEndian(header, 0x04034b50);
        header[4] = 20;
        BinaryPrimitives.WriteUInt16LittleEndian(header[6..], flags);
        header[8] = 8;
        BinaryPrimitives.WriteUInt32LittleEndian(header[14..], described ? 0 : crc);
        BinaryPrimitives.WriteUInt32LittleEndian(header[18..], described ? 0 : (uint)data.Length);
        BinaryPrimitives.WriteUInt32LittleEndian(header[22..], described ? 0 : bytes);
        BinaryPrimitives.WriteUInt16LittleEndian(header[26..], (ushort)inHeader.Length);
        BinaryPrimitives.WriteUInt16LittleEndian(header[28..], (ushort)(extra?.Length ?? 0));
        Raw(header).Raw(inHeader).Raw(extra ?? []).Raw(data);
        if (described)
        {
            Span<byte> descriptor = stackalloc byte[16];
            BinaryPrimitives.WriteUInt32LittleEndian(descriptor, 0x08074b50);
            BinaryPrimitives.WriteUInt32LittleEndian(descriptor[4..], crc);
            BinaryPrimitives.WriteUInt32LittleEndian(descriptor[8..], (uint)data.Length);
            BinaryPrimitives.WriteUInt32LittleEndian(descriptor[12..], bytes);
            Raw(descriptor);
        }

        byte[] inDirectory = Encoding.UTF8.GetBytes(name);
        Span<byte> entry = stackalloc byte[46];
        BinaryPrimitives.WriteUInt32LittleEndian(entry, 0x02014b50);
        entry[4] = 20;
        entry[5] = 3;
        entry[6] = 20;
        BinaryPrimitives.WriteUInt16LittleEndian(entry[8..], flags);
        entry[10] = 8;
        BinaryPrimitives.WriteUInt32LittleEndian(entry[16..], crc);
        BinaryPrimitives.WriteUInt32LittleEndian(entry[20..], (uint)data.Length);
        BinaryPrimitives.WriteUInt32LittleEndian(entry[24..], bytes);
        BinaryPrimitives.WriteUInt16LittleEndian(entry[28..], (ushort)inDirectory.Length);
        BinaryPrimitives.WriteUInt16LittleEndian(entry[30..], (ushort)(extra?.Length ?? 0));
        BinaryPrimitives.WriteUInt32LittleEndian(entry[38..], external);
        BinaryPrimitives.WriteUInt32LittleEndian(entry[42..], at);
        if (listed)
        {
            _directory.Add([.. entry, .. inDirectory, .. extra ?? []]);
        }

        return this;
    }

    /// <summary>The whole file.</summary>
    internal byte[] End(string comment = "")
    {
        uint at = (uint)_file.Position;
        byte[] directory = [.. _directory.SelectMany(e => e)];
        Span<byte> end = stackalloc byte[22];
        BinaryPrimitives.WriteUInt32LittleEndian(end, 0x06054b50);
        BinaryPrimitives.WriteUInt16LittleEndian(end[8..], (ushort)_directory.Count);
        BinaryPrimitives.WriteUInt16LittleEndian(end[10..], (ushort)_directory.Count);
        BinaryPrimitives.WriteUInt32LittleEndian(end[12..], (uint)directory.Length);
        BinaryPrimitives.WriteUInt32LittleEndian(end[16..], at);
        BinaryPrimitives.WriteUInt16LittleEndian(end[20..], (ushort)comment.Length);
        Raw(directory).Raw(end).Raw(Encoding.ASCII.GetBytes(comment));
        return _file.ToArray();
    }
}
