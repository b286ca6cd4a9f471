using System.Globalization;
using System.Text;

namespace Cardassay.Collector.Files;

/// <summary>Reads the lines of a text that came from elsewhere, of which none may be longer than a limit and there may not be more than a limit.</summary>
internal static class BoundedLines
{
    private const int BlockBytes = 64 * 1024;
    private static readonly UTF8Encoding Strict = new(encoderShouldEmitUTF8Identifier: false, throwOnInvalidBytes: true);

    /// <summary>Every line without its end (LF or CR LF). A last line without an end is one, too.</summary>
    /// <param name="from">UTF-8.</param>
    /// <param name="name">What to call the text.</param>
    /// <param name="maxLineBytes">Longest line, bytes.</param>
    /// <param name="maxLines">Most lines.</param>
    /// <exception cref="EvidenceException">A line is too long, there are too many, or one is not UTF-8.</exception>
    internal static IEnumerable<string> Of(Stream from, string name, int maxLineBytes, long maxLines = long.MaxValue)
    {
        byte[] block = new byte[BlockBytes];
        byte[] begun = [];
        int held = 0;
        long number = 0;
        int got;
        while ((got = from.Read(block)) > 0)
        {
            int at = 0;
            while (at < got)
            {
                int end = block.AsSpan(at, got - at).IndexOf((byte)'\n');
                int piece = end < 0 ? got - at : end;
                if (held + piece > maxLineBytes)
                {
                    throw new EvidenceException(string.Create(CultureInfo.InvariantCulture, $"Line {number + 1} of {name} is longer than the {maxLineBytes} bytes allowed."));
                }

                if (end < 0)
                {
                    if (begun.Length < held + piece)
                    {
                        Array.Resize(ref begun, Math.Max(held + piece, Math.Min(maxLineBytes, 2 * begun.Length)));
                    }

                    block.AsSpan(at, piece).CopyTo(begun.AsSpan(held));
                    held += piece;
                    break;
                }

                yield return Line(begun.AsSpan(0, held), block.AsSpan(at, piece), Count(ref number, maxLines, name), name);
                held = 0;
                at += piece + 1;
            }
        }

        if (held > 0)
        {
            yield return Line(begun.AsSpan(0, held), [], Count(ref number, maxLines, name), name);
        }
    }

    private static long Count(ref long number, long maxLines, string name) => ++number <= maxLines
        ? number
        : throw new EvidenceException(string.Create(CultureInfo.InvariantCulture, $"{name} has more than {maxLines} lines; split it."));

    private static string Line(ReadOnlySpan<byte> begun, ReadOnlySpan<byte> rest, long number, string name)
    {
        ReadOnlySpan<byte> whole = begun.Length == 0 ? rest : rest.Length == 0 ? begun : (byte[])[.. begun, .. rest];
        whole = whole.EndsWith((byte)'\r') ? whole[..^1] : whole;
        try
        {
            return Strict.GetString(whole);
        }
        catch (DecoderFallbackException)
        {
            throw new EvidenceException(string.Create(CultureInfo.InvariantCulture, $"Line {number} of {name} is not text in UTF-8."));
        }
    }
}
