using System.Buffers.Binary;
using System.Globalization;
using System.Text;
using Cardassay.Trust;

namespace Cardassay.Collector.Files;

/// <summary>
/// Reads the directory of a zip (PKWARE APPNOTE 6.3.10, sections 4.3 and 4.5.3) and takes it only where every program that unpacks would see the
/// same files in it: the members stand one behind the other without a gap from the first byte to the directory, the header before each
/// says what the directory says, no name comes twice, and nothing stands behind the end. A second, hidden file of one name, a longer name in an extra
/// field, a link or an encrypted member is refused by name.
/// </summary>
internal static class ZipDirectory
{
    /// <summary>Most files in a zip that is read; ours have seven at the most.</summary>
    internal const int MostMembers = 16;

    private const long MaxDirectoryBytes = 64 << 10;
    private const int EndBytes = 22;
    private const int LocatorBytes = 20;
    private const int LargeEndBytes = 56;
    private const int EntryBytes = 46;
    private const int HeaderBytes = 30;
    private const uint EndMark = 0x06054b50;
    private const uint LocatorMark = 0x07064b50;
    private const uint LargeEndMark = 0x06064b50;
    private const uint EntryMark = 0x02014b50;
    private const uint HeaderMark = 0x04034b50;
    private const uint DescriptorMark = 0x08074b50;
    private const uint Large = uint.MaxValue;
    private const ushort LargeCount = ushort.MaxValue;
    private const ushort LargeField = 0x0001;
    private const ushort OtherNameField = 0x7075;
    private const ushort DescriptorFollows = 1 << 3;

    /// <summary>How well it was compressed (bits 1 and 2), a descriptor behind it (3), a name in UTF-8 (11).</summary>
    private const ushort KnownFlags = 0x080E;

    /// <summary>All members in the order in which they stand in the file.</summary>
    /// <exception cref="EvidenceException">It is no zip, damaged, or not one that every program reads alike.</exception>
    internal static IReadOnlyList<ZipMember> Read(Stream zip, string name)
    {
        try
        {
            (long at, long bytes, long count) = End(zip, name);
            return Members(zip, name, Entries(At(zip, at, (int)bytes), count, name), at);
        }
        catch (EndOfStreamException)
        {
            throw Damaged(name, "it ends early");
        }
    }

    /// <summary>Where the directory is, its length, and how many members it lists.</summary>
    private static (long At, long Bytes, long Count) End(Stream zip, string name)
    {
        long end = zip.Length - EndBytes;
        ReadOnlySpan<byte> tail = end < 0 ? [] : At(zip, end, EndBytes);
        if (tail.Length == 0 || U32(tail) != EndMark)
        {
            throw new EvidenceException($"{name} is not a zip file, was cut off, or has something behind its end: take the file as it was written.");
        }

        if (U16(tail[20..]) != 0 || U32(tail[4..]) != 0 || U16(tail[8..]) != U16(tail[10..]))
        {
            throw Damaged(name, "its end does not belong to one whole zip");
        }

        (long at, long bytes, long count, long next) = (U32(tail[16..]), U32(tail[12..]), U16(tail[10..]), end);
        if (at == Large || bytes == Large || count == LargeCount)
        {
            (at, bytes, count, next) = LargeEnd(zip, name, end - LocatorBytes);
        }

        if (count > MostMembers || bytes > MaxDirectoryBytes)
        {
            throw new EvidenceException(string.Create(CultureInfo.InvariantCulture, $"{name} lists {count} files; a zip of ours has {MostMembers} at the most. Take the file as it was written."));
        }

        return at >= 0 && bytes >= 0 && count >= 0 && at + bytes == next ? (at, bytes, count) : throw Damaged(name, "its directory does not end where it should");
    }

    private static (long At, long Bytes, long Count, long Next) LargeEnd(Stream zip, string name, long locatorAt)
    {
        ReadOnlySpan<byte> locator = locatorAt < 0 ? [] : At(zip, locatorAt, LocatorBytes);
        long at = locator.Length > 0 && U32(locator) == LocatorMark && U32(locator[4..]) == 0 ? I64(locator[8..]) : -1;
        if (at < 0 || at + LargeEndBytes != locatorAt)
        {
            throw Damaged(name, "the end of a large zip is missing");
        }

        ReadOnlySpan<byte> end = At(zip, at, LargeEndBytes);
        return U32(end) == LargeEndMark && I64(end[4..]) == LargeEndBytes - 12 && I64(end[16..]) == 0 && I64(end[24..]) == I64(end[32..])
            ? (I64(end[48..]), I64(end[40..]), I64(end[32..]), at)
            : throw Damaged(name, "the end of a large zip is wrong");
    }

    private static List<Listed> Entries(byte[] directory, long count, string name)
    {
        var entries = new List<Listed>();
        ReadOnlySpan<byte> left = directory;
        while (left.Length > 0)
        {
            if (left.Length < EntryBytes || U32(left) != EntryMark)
            {
                throw Damaged(name, "its directory cannot be read");
            }

            (int nameBytes, int extraBytes, int commentBytes) = (U16(left[28..]), U16(left[30..]), U16(left[32..]));
            if (left.Length < EntryBytes + nameBytes + extraBytes + commentBytes)
            {
                throw Damaged(name, "its directory cannot be read");
            }

            string member = Name(left.Slice(EntryBytes, nameBytes), name);
            ReadOnlySpan<byte> extra = left.Slice(EntryBytes + nameBytes, extraBytes);
            ushort flags = U16(left[8..]);
            ushort method = U16(left[10..]);
            uint kind = U32(left[38..]) >> 28; // the type bits of the mode of a Unix file: none, or a plain file
            if ((flags & ~KnownFlags) != 0 || method is not (0 or 8) || (method == 0 && (flags & DescriptorFollows) != 0) || kind is not (0 or 8) || U16(left[34..]) != 0)
            {
                throw new EvidenceException($"{member} in {name} is encrypted, a link, or packed in a way that is not read: take the file as it was written.");
            }

            var sizes = new Sizes(U32(left[24..]), U32(left[20..]), U32(left[42..]));
            sizes = sizes.Widened(Field(extra, member, name), Damaged(name, $"the directory's entry of {member} is wrong"));
            entries.Add(new Listed(member, flags, method, U32(left[16..]), sizes));
            left = left[(EntryBytes + nameBytes + extraBytes + commentBytes)..];
        }

        if (entries.Count != count)
        {
            throw Damaged(name, "its directory lists another number of files than its end");
        }

        if (entries.GroupBy(e => e.Name, StringComparer.OrdinalIgnoreCase).FirstOrDefault(g => g.Count() > 1) is { } twice)
        {
            throw new EvidenceException($"{name} holds {twice.Key} twice, so that what is checked and what is unpacked may differ: it was altered, take the file as it was written.");
        }

        return entries;
    }

    private static List<ZipMember> Members(Stream zip, string name, List<Listed> entries, long directoryAt)
    {
        var members = new List<ZipMember>();
        long at = 0;
        foreach (Listed entry in entries.OrderBy(e => e.Sizes.At))
        {
            if (entry.Sizes.At != at)
            {
                throw Hidden(name, entry.Name);
            }

            ReadOnlySpan<byte> header = At(zip, at, HeaderBytes);
            int nameBytes = U16(header[26..]);
            int extraBytes = U16(header[28..]);
            byte[] behind = At(zip, at + HeaderBytes, nameBytes + extraBytes);
            bool isSame = U32(header) == HeaderMark && U16(header[6..]) == entry.Flags && U16(header[8..]) == entry.Method
                && Name(behind.AsSpan(0, nameBytes), name) == entry.Name && SaysTheSame(header, behind.AsSpan(nameBytes), entry, name);
            if (!isSame)
            {
                throw new EvidenceException($"{entry.Name} in {name} says something else of itself than the directory of the zip: it was altered, take the file as it was written.");
            }

            long data = at + HeaderBytes + nameBytes + extraBytes;
            at = data + entry.Sizes.Compressed;
            at = (entry.Flags & DescriptorFollows) == 0 ? at : BehindDescriptor(zip, name, entry, at, directoryAt);
            members.Add(new ZipMember(entry.Name, entry.Method == 8, entry.Crc32, entry.Sizes.Compressed, entry.Sizes.Bytes, data));
        }

        return at == directoryAt ? members : throw Hidden(name, entries.Count == 0 ? "its directory" : members[^1].Name);
    }

    private static bool SaysTheSame(ReadOnlySpan<byte> header, ReadOnlySpan<byte> extra, Listed entry, string name)
    {
        (uint crc, uint compressed, uint bytes) = (U32(header[14..]), U32(header[18..]), U32(header[22..]));
        ReadOnlySpan<byte> field = Field(extra, entry.Name, name);
        if ((entry.Flags & DescriptorFollows) != 0 && crc == 0 && compressed is 0 or Large && bytes is 0 or Large)
        {
            return true; // stated behind the content
        }

        Sizes stated = new Sizes(bytes, compressed, 0).Widened(field, Damaged(name, $"the header of {entry.Name} is wrong"));
        return crc == entry.Crc32 && stated.Bytes == entry.Sizes.Bytes && stated.Compressed == entry.Sizes.Compressed;
    }

    /// <summary>The descriptor (section 4.3.9) with or without its mark, its lengths in 4 or 8 bytes each; where the next member begins.</summary>
    private static long BehindDescriptor(Stream zip, string name, Listed entry, long at, long directoryAt)
    {
        foreach ((int mark, int wide) in (ReadOnlySpan<(int, int)>)[(4, 4), (4, 8), (0, 4), (0, 8)])
        {
            int length = mark + 4 + (2 * wide);
            if (at + length > directoryAt)
            {
                continue;
            }

            ReadOnlySpan<byte> text = At(zip, at, length);
            ReadOnlySpan<byte> values = text[mark..];
            long compressed = wide == 4 ? U32(values[4..]) : I64(values[4..]);
            long bytes = wide == 4 ? U32(values[8..]) : I64(values[12..]);
            uint next = at + length == directoryAt ? HeaderMark : U32(At(zip, at + length, 4));
            if ((mark == 0 || U32(text) == DescriptorMark) && U32(values) == entry.Crc32 && compressed == entry.Sizes.Compressed && bytes == entry.Sizes.Bytes && next == HeaderMark)
            {
                return at + length;
            }
        }

        throw Hidden(name, entry.Name);
    }

    /// <summary>The field with lengths of 8 bytes (section 4.5.3), empty where there is none. A field that gives another name is refused.</summary>
    private static ReadOnlySpan<byte> Field(ReadOnlySpan<byte> extra, string member, string name)
    {
        ReadOnlySpan<byte> large = [];
        while (extra.Length >= 4)
        {
            int length = U16(extra[2..]);
            if (length > extra.Length - 4 || U16(extra) == OtherNameField)
            {
                throw new EvidenceException($"{member} in {name} carries a field that is damaged or gives it another name: take the file as it was written.");
            }

            large = U16(extra) == LargeField ? extra.Slice(4, length) : large;
            extra = extra[(4 + length)..];
        }

        return extra.Length == 0 ? large : throw Damaged(name, $"a field of {member} is cut off");
    }

    private static string Name(ReadOnlySpan<byte> bytes, string name) =>
        bytes.Length is > 0 and <= 100 && bytes.IndexOfAnyExceptInRange((byte)0x21, (byte)0x7E) < 0
            ? Encoding.ASCII.GetString(bytes)
            : throw new EvidenceException($"{name} holds a file called \"{PlainText.Clean(Encoding.UTF8.GetString(bytes[..Math.Min(bytes.Length, 100)]))}\", which no zip of ours does: it was altered, take the file as it was written.");

    private static byte[] At(Stream zip, long at, int length)
    {
        byte[] bytes = new byte[length];
        zip.Position = at;
        zip.ReadExactly(bytes);
        return bytes;
    }

    private static EvidenceException Damaged(string name, string what) => new($"{name} is damaged: {what}. Take the file as it was written.");

    private static EvidenceException Hidden(string name, string member) =>
        new($"{name} holds bytes at {member} that its directory does not list, so that what is checked and what is unpacked may differ: it was altered, take the file as it was written.");

    private static ushort U16(ReadOnlySpan<byte> from) => BinaryPrimitives.ReadUInt16LittleEndian(from);

    private static uint U32(ReadOnlySpan<byte> from) => BinaryPrimitives.ReadUInt32LittleEndian(from);

    private static long I64(ReadOnlySpan<byte> from) => BinaryPrimitives.ReadInt64LittleEndian(from);

    /// <summary>What the directory says of a member.</summary>
    private sealed record Listed(string Name, ushort Flags, ushort Method, uint Crc32, Sizes Sizes);

    /// <summary>Lengths and place of a member; where one does not fit into 4 bytes, a field holds it in 8.</summary>
    private readonly record struct Sizes(long Bytes, long Compressed, long At)
    {
        internal Sizes Widened(ReadOnlySpan<byte> field, EvidenceException wrong)
        {
            (long bytes, long compressed, long at) = (Wide(Bytes, ref field, wrong), Wide(Compressed, ref field, wrong), Wide(At, ref field, wrong));
            return bytes < 0 || compressed < 0 || at < 0 ? throw wrong : new Sizes(bytes, compressed, at);
        }

        private static long Wide(long value, ref ReadOnlySpan<byte> field, EvidenceException wrong)
        {
            if (value != Large)
            {
                return value;
            }

            if (field.Length < 8)
            {
                throw wrong;
            }

            value = I64(field);
            field = field[8..];
            return value;
        }
    }
}
