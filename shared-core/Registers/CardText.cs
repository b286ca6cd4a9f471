using System.Globalization;
using System.Text;

namespace Cardassay.Registers;

/// <summary>Text fields of a register: bytes that should be ASCII and may be anything.</summary>
public static class CardText
{
    /// <summary>The bytes as text for people: printable ASCII as it is, anything else (and '%') as %xx.</summary>
    public static string Printable(ReadOnlySpan<byte> bytes) => Escape(bytes, b => b is >= 0x20 and < 0x7F and not (byte)'%');

    /// <summary>
    /// The bytes as text that needs no quoting in a shell: letters, digits, '.' and '_' as they are, anything else as %xx.
    /// </summary>
    public static string ShellSafe(ReadOnlySpan<byte> bytes) =>
        Escape(bytes, b => char.IsAsciiLetterOrDigit((char)b) || b is (byte)'.' or (byte)'_');

    private static string Escape(ReadOnlySpan<byte> bytes, Func<byte, bool> keep)
    {
        StringBuilder text = new();
        foreach (byte b in bytes)
        {
            _ = keep(b) ? text.Append((char)b) : text.Append(CultureInfo.InvariantCulture, $"%{b:x2}");
        }

        return text.ToString();
    }
}
