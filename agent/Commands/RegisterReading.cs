using Cardassay.Identity;
using Cardassay.Registers;

namespace Cardassay.Agent.Commands;

/// <summary>One register as it was read: the file, and what decoding it came to.</summary>
/// <param name="FileName">Name of the sysfs file ("cid").</param>
/// <param name="Text">The file; an all-zero or damaged text is known here, which is not the same as unreadable.</param>
/// <param name="Decoded">True when the text is a register.</param>
/// <param name="Reason">Why there is no register, or null.</param>
/// <param name="Checksum">State of the checksum; null for registers that carry none and for what was not decoded.</param>
internal sealed record RegisterReading(string FileName, Reading<string> Text, bool Decoded, string? Reason, CrcState? Checksum)
{
    /// <summary>The four registers of an SD card, in the order every page shows them.</summary>
    internal static IReadOnlyList<RegisterReading> Of(CardPreview preview)
    {
        CardRegisters r = preview.Registers;
        bool mmc = r.Type == CardType.Mmc;
        return
        [
            Read("cid", mmc ? r.MmcCid.IsKnown : r.Cid.IsKnown, mmc ? r.MmcCid.Reason : r.Cid.Reason, preview.Facts.CidCrc),
            Read("csd", mmc ? r.MmcCsd.IsKnown : r.Csd.IsKnown, mmc ? r.MmcCsd.Reason : r.Csd.Reason, preview.Facts.CsdCrc),
            Read("scr", r.Scr.IsKnown, r.Scr.Reason, null),
            Read("ssr", r.Status.IsKnown, r.Status.Reason, null),
        ];

        RegisterReading Read(string name, bool decoded, string? reason, CrcState? checksum)
        {
            Reading<string> text = preview.Sighting.Files.TryGetValue(name, out Reading<string> found) ? found : Reading<string>.Absent();
            return new RegisterReading(name, text, decoded,
                decoded ? null : text.Reason ?? reason ?? (text.IsKnown ? "not decoded" : null), checksum);
        }
    }
}
