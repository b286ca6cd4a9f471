using System.Globalization;
using Cardassay.Registers;

namespace Cardassay.Identity.Rules;

/// <summary>How much a field that differs from the reference cards tells.</summary>
internal enum FieldWeight
{
    /// <summary>Changes between batches of one product.</summary>
    Weak,

    /// <summary>Belongs to the product; changes when the product does.</summary>
    Medium,

    /// <summary>Belongs to the maker.</summary>
    Strong,
}

/// <summary>One thing a card can share with reference cards.</summary>
/// <param name="Name">What it is.</param>
/// <param name="Weight">How much it tells.</param>
/// <param name="Read">Its value as text, or null when the registers do not give it.</param>
internal sealed record ReferenceField(string Name, FieldWeight Weight, Func<CardRegisters, string?> Read)
{
    /// <summary>All fields compared, from the strongest down.</summary>
    public static IReadOnlyList<ReferenceField> All { get; } =
    [
        new("manufacturer id", FieldWeight.Strong, r => Hex(r.Cid.Value?.ManufacturerId ?? r.MmcCid.Value?.ManufacturerId, 2)),
        new("OEM id", FieldWeight.Strong, r => Hex(r.Cid.Value?.OemId ?? r.MmcCid.Value?.OemId, 4)),
        new("name pattern", FieldWeight.Medium, r => Pattern(r.Cid.Value?.ProductName ?? r.MmcCid.Value?.ProductName)),
        new("capacity, bytes", FieldWeight.Medium, r => r.UserAreaBytes?.ToString(CultureInfo.InvariantCulture)),
        new("version of the standard", FieldWeight.Medium, r => r.Scr.Value?.SpecVersion),
        new("declared marks", FieldWeight.Medium, r => r.Status.Value is { } s ? string.Join(' ', SpeedMark.DeclaredBy(s)) : null),
        new("CSD without size", FieldWeight.Medium, r => r.Csd.Value is { } csd ? CsdShape(csd) : null),
        new("name", FieldWeight.Weak, r => r.Cid.Value?.ProductName ?? r.MmcCid.Value?.ProductName),
        new("revision", FieldWeight.Weak, r => r.Cid.Value?.ProductRevision ?? r.MmcCid.Value?.ProductRevision),
        new("SCR", FieldWeight.Weak, r => r.Scr.Value?.Encode()),
        new("SD Status without state and maker's bits", FieldWeight.Weak, r => r.Status.Value?.Lasting.ToHex()),
    ];

    private static string? Hex(int? value, int digits) =>
        value is int number
            ? "0x" + number.ToString("x" + digits.ToString(CultureInfo.InvariantCulture), CultureInfo.InvariantCulture)
            : null;

    /// <summary>Letters stay, digits become '#': the digits of a name are often the capacity.</summary>
    private static string? Pattern(string? name) => name is null ? null : string.Concat(name.Select(c => char.IsAsciiDigit(c) ? '#' : c));

    /// <summary>Everything but C_SIZE, which is compared as capacity, and the writable end of the register with its checksum.</summary>
    private static string CsdShape(Csd csd)
    {
        RegisterBits bits = csd.Bits.With(15, 0, 0);
        return (csd.Version switch
        {
            1 => bits.With(73, 62, 0).With(49, 47, 0),
            2 => bits.With(69, 48, 0),
            _ => bits.With(75, 48, 0),
        }).ToHex();
    }
}
