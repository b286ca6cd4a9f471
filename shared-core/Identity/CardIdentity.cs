using System.Globalization;
using Cardassay.Registers;

namespace Cardassay.Identity;

/// <summary>
/// What a card is recognised by. From the registers where they are readable; otherwise from the kernel name, size and
/// serial of the device, and marked as such.
/// </summary>
/// <param name="Text">The text a person types after `--erase`; holds no white space.</param>
/// <param name="FromRegisters">True when it was made from the CID.</param>
public sealed record CardIdentity(string Text, bool FromRegisters)
{
    /// <summary>
    /// Identity of a device that shows no registers: `noregisters-NAME-BYTES-SERIAL`, with `noserial` where there is none.
    /// </summary>
    public static CardIdentity ForDevice(string kernelName, long sizeBytes, string? serial) =>
        new(string.Create(CultureInfo.InvariantCulture, $"noregisters-{kernelName}-{sizeBytes}-{Clean(serial)}"), FromRegisters: false);

    /// <summary>
    /// Identity of an SD card: `sd-MID-OID-PNM-PRV-PSN-MDT`, for example `sd-03-5344-SU08G-8.0-04968f00-2012-05`. Two cards have the
    /// same text only if they agree in all of these. Bytes of the name that a shell might take for something else are %xx.
    /// </summary>
    public static CardIdentity FromCid(Cid cid) => new(
        string.Create(
            CultureInfo.InvariantCulture,
            $"sd-{cid.ManufacturerId:x2}-{cid.OemId:x4}-{CardText.ShellSafe(cid.ProductNameBytes)}-{cid.ProductRevision}"
                + $"-{cid.SerialNumber:x8}-{cid.Manufactured}"),
        FromRegisters: true);

    /// <summary>
    /// Identity of an eMMC: `mmc-MID-OID-PNM-PRV-PSN-MDT`. The date stays as the register holds it (month and year code, one hex
    /// digit each): the year it means depends on a second register, and an identity must not change when that one is unreadable.
    /// </summary>
    public static CardIdentity FromMmcCid(MmcCid cid) => new(
        string.Create(
            CultureInfo.InvariantCulture,
            $"mmc-{cid.ManufacturerId:x2}-{cid.OemId:x4}-{CardText.ShellSafe(cid.ProductNameBytes)}-{cid.ProductRevision}"
                + $"-{cid.SerialNumber:x8}-{cid.ManufactureMonth:x}{cid.ManufactureYearCode:x}"),
        FromRegisters: true);

    /// <summary>
    /// True for a text that can be an identity: begins as one and holds no white space. Whether such a
    /// card exists is another question.
    /// </summary>
    public static bool IsIdentity(string text) =>
        (text.StartsWith("sd-", StringComparison.Ordinal) || text.StartsWith("mmc-", StringComparison.Ordinal)
            || text.StartsWith("noregisters-", StringComparison.Ordinal))
        && text.Count(c => c == '-') >= 3 && text.All(c => c is > ' ' and <= '~');

    /// <inheritdoc/>
    public override string ToString() => Text;

    private static string Clean(string? serial)
    {
        string kept = new([.. (serial ?? "").Where(c => char.IsAsciiLetterOrDigit(c) || c is '.' or '_')]);
        return kept.Length == 0 ? "noserial" : kept;
    }
}
