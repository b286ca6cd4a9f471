namespace Cardassay.Registers;

/// <summary>
/// The checksum of commands and of CID and CSD: x^7 + x^3 + 1, start value 0, most significant bit first (P4 4.5; K `lib/crc7.c`).
/// </summary>
public static class Crc7
{
    private const int Polynomial = 0x09;

    /// <summary>Checksum of the bytes, 0 to 127.</summary>
    public static int Of(ReadOnlySpan<byte> bytes)
    {
        int crc = 0;
        foreach (byte b in bytes)
        {
            for (int bit = 7; bit >= 0; bit--)
            {
                int feedback = ((crc >> 6) ^ (b >> bit)) & 1;
                crc = ((crc << 1) & 0x7F) ^ (feedback * Polynomial);
            }
        }

        return crc;
    }

    /// <summary>
    /// State of the checksum of a register of 16 bytes. A last byte of 00 or 01 was stripped by the host (K
    /// `sdhci_read_rsp_136`); bit 0 is ignored because some hosts clear it.
    /// </summary>
    /// <exception cref="ArgumentException">The register is not 16 bytes long.</exception>
    public static CrcState StateOf(RegisterBits register)
    {
        ReadOnlySpan<byte> bytes = register.Bytes;
        if (bytes.Length != 16)
        {
            throw new ArgumentException("Only registers of 16 bytes carry this checksum.", nameof(register));
        }

        if (bytes[15] is 0x00 or 0x01)
        {
            return CrcState.NotAvailable;
        }

        return bytes[15] >> 1 == Of(bytes[..15]) ? CrcState.Valid : CrcState.Invalid;
    }
}
