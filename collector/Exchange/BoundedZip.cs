using System.Globalization;
using System.IO.Compression;

namespace Cardassay.Collector.Exchange;

/// <summary>Reads zip files that came from elsewhere: only by the names asked for, and never more than a stated number of bytes.</summary>
internal sealed class BoundedZip : IDisposable
{
    private readonly ZipArchive _zip;
    private readonly string _name;

    private BoundedZip(ZipArchive zip, string name)
    {
        _zip = zip;
        _name = name;
    }

    /// <exception cref="EvidenceException">It is not a zip file.</exception>
    internal static BoundedZip Open(Stream stream, string name)
    {
        try
        {
            return new BoundedZip(new ZipArchive(stream, ZipArchiveMode.Read), name);
        }
        catch (InvalidDataException e)
        {
            throw new EvidenceException($"{name} is not a zip file: {e.Message}");
        }
    }

    /// <summary>True when the archive holds a file of that name.</summary>
    internal bool Has(string member) => Find(member) is not null;

    /// <summary>The bytes of a member.</summary>
    /// <exception cref="EvidenceException">It is missing, damaged or larger than allowed.</exception>
    internal byte[] Read(string member, long maxBytes)
    {
        ZipArchiveEntry entry = Find(member) ?? throw new EvidenceException($"{_name} lacks the file {member}.");
        using var all = new MemoryStream();
        try
        {
            using Stream stream = entry.Open();
            byte[] buffer = new byte[81_920];
            int got;
            while ((got = stream.Read(buffer)) > 0)
            {
                all.Write(buffer, 0, got);
                if (all.Length > maxBytes)
                {
                    throw new EvidenceException(string.Create(CultureInfo.InvariantCulture, $"{member} in {_name} is larger than the {maxBytes} bytes allowed."));
                }
            }
        }
        catch (Exception e) when (e is InvalidDataException or NotSupportedException or EndOfStreamException)
        {
            throw new EvidenceException($"{member} in {_name} is damaged: {e.Message}");
        }

        return all.ToArray();
    }

    /// <summary>The list of files is read with the first look-up, and may be the damaged part.</summary>
    private ZipArchiveEntry? Find(string member)
    {
        try
        {
            return _zip.GetEntry(member);
        }
        catch (Exception e) when (e is InvalidDataException or NotSupportedException or EndOfStreamException)
        {
            throw new EvidenceException($"{_name} is damaged: {e.Message}");
        }
    }

    public void Dispose() => _zip.Dispose();
}
