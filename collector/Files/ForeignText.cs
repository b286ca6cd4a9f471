using System.Text;

namespace Cardassay.Collector.Files;

/// <summary>Reads a text from elsewhere piece by piece, so that it may be of any length.</summary>
internal static class ForeignText
{
    private const int PieceChars = 32 * 1024;
    private static readonly UTF8Encoding Strict = new(encoderShouldEmitUTF8Identifier: false, throwOnInvalidBytes: true);

    /// <summary>The text without a byte order mark.</summary>
    /// <param name="from">UTF-8, with or without a byte order mark; it is closed with the reader.</param>
    internal static TextReader Open(Stream from)
    {
        var reader = new StreamReader(from, Strict, detectEncodingFromByteOrderMarks: false, PieceChars);
        if (reader.Peek() == '\uFEFF')
        {
            reader.Read();
        }

        return reader;
    }

    /// <summary>The text in pieces, each good until the next is asked for.</summary>
    /// <param name="from">UTF-8, with or without a byte order mark.</param>
    /// <param name="name">What to call it.</param>
    /// <exception cref="EvidenceException">It is no text in UTF-8.</exception>
    internal static IEnumerable<ReadOnlyMemory<char>> Pieces(Stream from, string name)
    {
        using TextReader? text = Try(() => Open(from), name);
        char[] piece = new char[PieceChars];
        while (Try(() => text.Read(piece), name) is > 0 and int got)
        {
            yield return piece.AsMemory(0, got);
        }
    }

    private static T Try<T>(Func<T> read, string name)
    {
        try
        {
            return read();
        }
        catch (DecoderFallbackException)
        {
            throw new EvidenceException($"{name} is not text in UTF-8: save it as UTF-8.");
        }
    }
}
