using Cardassay.Identity;
using Cardassay.Registers;
using Cardassay.Tests.Registers;

namespace Cardassay.Tests.Identity;

/// <summary>Registers changed field by field, with the checksum made right again unless that is the fault.</summary>
internal static class Altered
{
    /// <summary>The registers of a vector with some replaced; null leaves one as it is.</summary>
    public static CardRegisters With(
        this RegisterVector vector,
        Func<Cid, Cid>? cid = null,
        Func<Csd, Csd>? csd = null,
        Func<Scr, Scr>? scr = null,
        Func<SdStatus, SdStatus>? status = null) => vector.Registers().With(cid, csd, scr, status);

    /// <inheritdoc cref="With(RegisterVector, Func{Cid, Cid}?, Func{Csd, Csd}?, Func{Scr, Scr}?, Func{SdStatus, SdStatus}?)"/>
    public static CardRegisters With(
        this CardRegisters registers,
        Func<Cid, Cid>? cid = null,
        Func<Csd, Csd>? csd = null,
        Func<Scr, Scr>? scr = null,
        Func<SdStatus, SdStatus>? status = null) => registers with
        {
            Cid = cid is null ? registers.Cid : Reading<Cid>.Known(Sealed(cid(registers.Cid.Value!))),
            Csd = csd is null ? registers.Csd : Reading<Csd>.Known(Sealed(csd(registers.Csd.Value!))),
            Scr = scr is null ? registers.Scr : Reading<Scr>.Known(scr(registers.Scr.Value ?? new Scr())),
            Status = status is null ? registers.Status : Reading<SdStatus>.Known(status(registers.Status.Value ?? new SdStatus())),
        };

    /// <summary>The register with the checksum a card would give it.</summary>
    public static Cid Sealed(Cid cid) => cid with { Crc = Crc7.Of(cid.Bits.Bytes[..15]), StopBit = true };

    /// <inheritdoc cref="Sealed(Cid)"/>
    public static Csd Sealed(Csd csd) => csd with { Crc = Crc7.Of(csd.Bits.Bytes[..15]), StopBit = true };

    /// <summary>A register with some bits replaced, for those no field can set.</summary>
    public static Csd Bits(this Csd csd, int high, int low, ulong value) => Csd.Parse(csd.Bits.With(high, low, value).ToHex()).Value!;
}
