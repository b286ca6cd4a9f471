using System.Globalization;
using Cardassay.Trust;

namespace Cardassay.Collector.Files;

/// <summary>
/// Reads a zip that came from elsewhere: the files it may hold and no others, each once, each no larger than it may be and no better compressed than
/// records can be. Its content is given as a stream; nothing of it stands in memory as a whole.
/// </summary>
internal sealed class BoundedZip
{
    /// <summary>
    /// Bytes of content for each byte compressed, at the most, beyond the first mebibyte. Records reach some ten (measured: 4 to 30); the
    /// format allows 1,032.
    /// </summary>
    internal const int MostRatio = 200;

    private const long FreeBytes = 1 << 20;

    private readonly Stream _zip;
    private readonly string _name;
    private readonly IReadOnlyList<ZipMember> _members;

    private BoundedZip(Stream zip, string name, IReadOnlyList<ZipMember> members)
    {
        _zip = zip;
        _name = name;
        _members = members;
    }

    /// <summary>Opens a zip.</summary>
    /// <param name="zip">The file; it can be sought in, and stays open.</param>
    /// <param name="name">What to call it.</param>
    /// <param name="expected">The files it may hold.</param>
    /// <exception cref="EvidenceException">It is no zip, damaged, or holds something else.</exception>
    internal static BoundedZip Open(Stream zip, string name, IReadOnlyCollection<string> expected)
    {
        IReadOnlyList<ZipMember> members = ZipDirectory.Read(zip, name);
        foreach (ZipMember member in members)
        {
            if (!expected.Contains(member.Name))
            {
                throw new EvidenceException($"{name} holds {PlainText.Clean(member.Name)}, which is none of its files ({string.Join(", ", expected)}): it was altered, take the file as it was written.");
            }

            if (member.Bytes - FreeBytes > MostRatio * member.CompressedBytes)
            {
                throw new EvidenceException(string.Create(
                    CultureInfo.InvariantCulture,
                    $"{member.Name} in {name} would become {member.Bytes} bytes out of {member.CompressedBytes}, more than {MostRatio} to 1: no file of ours does, so that it is not unpacked."));
            }
        }

        return new BoundedZip(zip, name, members);
    }

    /// <summary>True when the zip holds a file of that name.</summary>
    internal bool Has(string member) => _members.Any(m => m.Name == member);

    /// <summary>The content of a member, from its beginning. One at a time: they share the file.</summary>
    /// <exception cref="EvidenceException">It is missing or larger than allowed.</exception>
    internal Stream Open(string member, long maxBytes)
    {
        ZipMember found = _members.FirstOrDefault(m => m.Name == member) ?? throw new EvidenceException($"{_name} lacks the file {member}.");
        return found.Bytes <= maxBytes
            ? new MemberStream(_zip, found, _name)
            : throw new EvidenceException(string.Create(CultureInfo.InvariantCulture, $"{member} in {_name} is larger than the {maxBytes} bytes allowed."));
    }

    /// <summary>The bytes of a small member.</summary>
    /// <exception cref="EvidenceException">It is missing, damaged or larger than allowed.</exception>
    internal byte[] Read(string member, int maxBytes)
    {
        using Stream stream = Open(member, maxBytes);
        using var all = new MemoryStream((int)stream.Length);
        stream.CopyTo(all); // to its end, where the checksum is compared
        return all.GetBuffer();
    }
}
