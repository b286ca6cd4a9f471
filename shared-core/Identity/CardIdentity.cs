using System.Globalization;

namespace Cardassay.Identity;

/// <summary>
/// What a card is recognised by. From the registers where they are readable; otherwise from the kernel name, size and
/// serial of the device, and marked as such.
/// </summary>
/// <param name="Text">The text a person types after `--erase`; holds no white space.</param>
/// <param name="FromRegisters">True when it was made from the CID.</param>
public sealed record CardIdentity(string Text, bool FromRegisters)
{
    /// <summary>Identity of a device that shows no registers: `noregisters-NAME-BYTES-SERIAL`, with `noserial` where there is none.</summary>
    public static CardIdentity ForDevice(string kernelName, long sizeBytes, string? serial) =>
        new(string.Create(CultureInfo.InvariantCulture, $"noregisters-{kernelName}-{sizeBytes}-{Clean(serial)}"), FromRegisters: false);

    /// <inheritdoc/>
    public override string ToString() => Text;

    private static string Clean(string? serial)
    {
        string kept = new([.. (serial ?? "").Where(c => char.IsAsciiLetterOrDigit(c) || c is '.' or '_')]);
        return kept.Length == 0 ? "noserial" : kept;
    }
}
