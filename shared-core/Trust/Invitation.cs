using System.Buffers.Text;
using System.Globalization;
using System.Security.Cryptography;
using System.Text;

namespace Cardassay.Trust;

/// <summary>
/// What a board needs to join: where the collector is, the hash of its authority's key, and a code that opens the door once. Written as
/// one line without a character a shell would touch: <c>cardassay-1/HOST:PORT/PIN/CODE/CHECK</c>, the last three in base64url (RFC 4648,
/// section 5).
/// </summary>
public sealed class Invitation
{
    /// <summary>Bytes of a code: 128 random bits.</summary>
    public const int CodeBytes = 16;

    /// <summary>Longest line read, characters.</summary>
    public const int MaxLineLength = 512;

    private const string Mark = "cardassay-1";
    private const int CheckBytes = 4;

    /// <param name="address">Where the collector listens, as the board sees it.</param>
    /// <param name="pin">SHA-256 of the authority's public key, 32 bytes; see <see cref="KeyPin"/>.</param>
    /// <param name="code">The secret, 16 bytes.</param>
    public Invitation(CollectorAddress address, byte[] pin, byte[] code)
    {
        ArgumentOutOfRangeException.ThrowIfNotEqual(pin.Length, SHA256.HashSizeInBytes);
        ArgumentOutOfRangeException.ThrowIfNotEqual(code.Length, CodeBytes);
        Address = address;
        Pin = pin;
        Code = code;
    }

    /// <summary>Where the collector listens.</summary>
    public CollectorAddress Address { get; }

    /// <summary>SHA-256 of the authority's public key.</summary>
    public byte[] Pin { get; }

    /// <summary>The secret.</summary>
    public byte[] Code { get; }

    /// <summary>
    /// Reads a line, as `invite` printed it: the invitation alone, or the whole command it stands in, with whatever is around it.
    /// </summary>
    /// <exception cref="InvitationException">It is not an invitation, or not a whole one.</exception>
    public static Invitation Parse(string line)
    {
        const string again = "copy the whole line that `cardassay-collector invite` printed.";
        if (line.Length > MaxLineLength)
        {
            throw new InvitationException($"This is not an invitation (it begins with {Mark}/): {again}");
        }

        string[] words = line.Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries);
        string text = words.FirstOrDefault(w => w.StartsWith(Mark + "/", StringComparison.Ordinal))
            ?? words.FirstOrDefault(IsOfAnotherVersion) ?? "";
        string[] parts = text.Split('/');
        if (parts[0] != Mark)
        {
            throw new InvitationException(text.Length > 0
                ? "The invitation was made by another version of the collector: update the older of the two."
                : $"This is not an invitation (it begins with {Mark}/): {again}");
        }

        if (parts.Length != 5 || !TryDecode(parts[4], CheckBytes, out byte[] check)
            || !CryptographicOperations.FixedTimeEquals(check, Check(text[..text.LastIndexOf('/')])))
        {
            throw new InvitationException($"The invitation was not copied whole or was altered: {again}");
        }

        if (!CollectorAddress.TryParse(parts[1], out CollectorAddress? address))
        {
            throw new InvitationException($"The address in the invitation is not HOST:PORT: {again}");
        }

        return TryDecode(parts[2], SHA256.HashSizeInBytes, out byte[] pin) && TryDecode(parts[3], CodeBytes, out byte[] code)
            ? new Invitation(address, pin, code)
            : throw new InvitationException($"The hash or the code in the invitation has the wrong length: {again}");
    }

    /// <summary>The line. It holds the secret: it is shown to the person who asked for it and goes nowhere else.</summary>
    public string ToLine()
    {
        string before = string.Create(CultureInfo.InvariantCulture,
            $"{Mark}/{Address}/{Base64Url.EncodeToString(Pin)}/{Base64Url.EncodeToString(Code)}");
        return $"{before}/{Base64Url.EncodeToString(Check(before))}";
    }

    /// <summary>Without the secret, so that it may appear in a message.</summary>
    public override string ToString() => $"invitation to {Address}";

    private static bool IsOfAnotherVersion(string word)
    {
        const string begin = "cardassay-";
        int slash = word.IndexOf('/', StringComparison.Ordinal);
        return slash > begin.Length && word.StartsWith(begin, StringComparison.Ordinal) && word[begin.Length..slash].All(char.IsAsciiDigit);
    }

    private static byte[] Check(string before) => SHA256.HashData(Encoding.UTF8.GetBytes(before))[..CheckBytes];

    private static bool TryDecode(string text, int bytes, out byte[] decoded)
    {
        decoded = new byte[bytes];
        // The strict length keeps one line from having several spellings.
        return text.Length == Base64Url.GetEncodedLength(bytes) && text.All(c => char.IsAsciiLetterOrDigit(c) || c is '-' or '_')
            && Base64Url.DecodeFromChars(text, decoded, out _, out int written) == System.Buffers.OperationStatus.Done && written == bytes
            && Base64Url.EncodeToString(decoded) == text;
    }
}

/// <summary>
/// The line is no invitation. The message is one sentence that says what is wrong with it and what to do; never the line itself.
/// </summary>
public sealed class InvitationException(string message) : Exception(message);
