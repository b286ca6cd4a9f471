using System.Globalization;
using System.Text;

namespace Cardassay.Collector.Files;

/// <summary>Reads a file named on a command line whole, when it is as small as such a file is. What has no end (a pipe, a device) is read to the limit and no further.</summary>
internal static class ForeignFile
{
    private static readonly UTF8Encoding Strict = new(encoderShouldEmitUTF8Identifier: false, throwOnInvalidBytes: true);

    /// <summary>Longest plan or profile, bytes.</summary>
    internal const int MaxSettingsBytes = 1 << 20;

    /// <summary>Longest table that a person keeps or publishes, bytes.</summary>
    internal const int MaxTableBytes = 16 << 20;

    /// <summary>The bytes of a file.</summary>
    /// <exception cref="EvidenceException">It is larger than allowed.</exception>
    /// <exception cref="IOException">It cannot be read.</exception>
    internal static byte[] Read(string path, int maxBytes)
    {
        using var file = new FileStream(path, FileMode.Open, FileAccess.Read, FileShare.ReadWrite | FileShare.Delete, bufferSize: 1);
        return Read(file, path, maxBytes);
    }

    /// <inheritdoc cref="Read(string, int)"/>
    internal static byte[] Read(Stream from, string name, int maxBytes)
    {
        using var all = new MemoryStream();
        byte[] block = new byte[64 * 1024];
        int got;
        while ((got = from.Read(block)) > 0)
        {
            if (all.Length + got > maxBytes)
            {
                throw new EvidenceException(string.Create(
                    CultureInfo.InvariantCulture,
                    $"{name} is larger than {maxBytes >> 20} MiB, more than such a file may be: take out what is not needed or split it."));
            }

            all.Write(block, 0, got);
        }

        return all.ToArray();
    }

    /// <summary>The text of a file in UTF-8, with or without a byte order mark.</summary>
    /// <exception cref="EvidenceException">It is larger than allowed, or no text in UTF-8.</exception>
    /// <exception cref="IOException">It cannot be read.</exception>
    internal static string ReadText(string path, int maxBytes) => Text(Read(path, maxBytes), path);

    /// <summary>Bytes as text in UTF-8, with or without a byte order mark.</summary>
    /// <exception cref="EvidenceException">They are none.</exception>
    internal static string Text(ReadOnlySpan<byte> bytes, string name)
    {
        try
        {
            return Strict.GetString(bytes.StartsWith("\uFEFF"u8) ? bytes[3..] : bytes);
        }
        catch (DecoderFallbackException)
        {
            throw new EvidenceException($"{name} is not text in UTF-8: save it as UTF-8.");
        }
    }
}
