using System.Globalization;
using Cardassay.Registers;
using Cardassay.Trials;

namespace Cardassay.Identity;

/// <summary>
/// What a card says of itself, decoded. Each register stands for itself: one that is missing or damaged never hides another,
/// and says which of the two it is.
/// </summary>
public sealed record CardRegisters
{
    /// <summary>SD or eMMC; decides how CID and CSD are read.</summary>
    public CardType Type { get; init; }

    /// <summary>Card identification of an SD card; absent on an eMMC.</summary>
    public Reading<Cid> Cid { get; init; }

    /// <summary>Card identification of an eMMC; absent on an SD card.</summary>
    public Reading<MmcCid> MmcCid { get; init; }

    /// <summary>Card-specific data of an SD card; absent on an eMMC.</summary>
    public Reading<Csd> Csd { get; init; }

    /// <summary>Card-specific data of an eMMC; absent on an SD card.</summary>
    public Reading<MmcCsd> MmcCsd { get; init; }

    /// <summary>SD configuration register.</summary>
    public Reading<Scr> Scr { get; init; }

    /// <summary>SD Status; unreadable when the kernel shows nothing but zeros, which is its sign of a failed reading.</summary>
    public Reading<SdStatus> Status { get; init; }

    /// <summary>Revision of the extended CSD of an eMMC (sysfs `rev`), or null.</summary>
    public int? ExtCsdRevision { get; init; }

    /// <summary>Size of the disk in bytes as the kernel states it, or null.</summary>
    public long? DiskBytes { get; init; }

    /// <summary>How the card is attached.</summary>
    public Attachment Attachment { get; init; }

    /// <summary>Identity from the registers, or null when the CID is not known.</summary>
    public CardIdentity? Identity =>
        Cid.IsKnown ? CardIdentity.FromCid(Cid.Value!) : MmcCid.IsKnown ? CardIdentity.FromMmcCid(MmcCid.Value!) : null;

    /// <summary>Month of manufacture, or null when the CID is not known.</summary>
    public ManufactureDate? Manufactured =>
        Cid.IsKnown ? Cid.Value!.Manufactured : MmcCid.IsKnown ? MmcCid.Value!.Manufactured(ExtCsdRevision) : null;

    /// <summary>
    /// User area in bytes, by the CSD. The size of the disk stands in where no CSD can state it: an eMMC's refers to another register, and
    /// a reader hides it. A CSD of undefined structure states no size, and a fixed disk without registers is no card.
    /// </summary>
    public long? UserAreaBytes =>
        Csd.IsKnown ? Csd.Value!.CapacityBytes
        : MmcCsd.IsKnown ? MmcCsd.Value!.CapacityBytes ?? DiskBytes
        : Attachment == Attachment.Fixed && Identity is null ? null
        : DiskBytes;

    /// <summary>Protected area in bytes, or null when SD Status or CSD is not known.</summary>
    public long? ProtectedAreaBytes => Status.IsKnown && Csd.IsKnown ? Status.Value!.ProtectedAreaBytes(Csd.Value!) : null;

    /// <summary>Decodes what a board reported.</summary>
    public static CardRegisters From(CardIdentified card) => From(card.Files, card.DiskBytes, card.Attachment);

    /// <summary>Decodes register files by their sysfs names. Never throws, whatever the texts hold.</summary>
    /// <param name="files">Text of each file; see <see cref="CardIdentified.Files"/>.</param>
    /// <param name="diskBytes">Size of the disk; 0 or less when unknown.</param>
    /// <param name="attachment">How the card is attached.</param>
    public static CardRegisters From(IReadOnlyDictionary<string, Reading<string>> files, long diskBytes, Attachment attachment)
    {
        CardType type = TypeOf(files);
        CardRegisters registers = new()
        {
            Type = type,
            DiskBytes = diskBytes > 0 ? diskBytes : null,
            Attachment = attachment,
        };
        return type switch
        {
            CardType.Sd => registers with
            {
                Cid = Decode(files, "cid", Registers.Cid.Parse),
                Csd = Decode(files, "csd", Registers.Csd.Parse),
                Scr = Decode(files, "scr", Registers.Scr.Parse),
                Status = Decode(files, "ssr", ParseStatus),
            },
            CardType.Mmc => registers with
            {
                MmcCid = Decode(files, "cid", Registers.MmcCid.Parse),
                MmcCsd = Decode(files, "csd", Registers.MmcCsd.Parse),
                ExtCsdRevision = ParseRevision(TextOf(files, "rev")),
            },
            _ when StateOf(files, "cid") != ReadingState.Absent => registers with
            {
                Cid = Reading<Cid>.Unreadable("it is not known whether this is an SD card or an eMMC (sysfs file 'type')"),
            },
            _ => registers,
        };
    }

    /// <remarks>
    /// Without `type` the kernel's choice of files tells: `scr` and `ssr` exist on SD only, `prv` and `rev` on eMMC only
    /// (Linux 6.1, `sd_std_attrs` and `mmc_std_attrs`).
    /// </remarks>
    private static CardType TypeOf(IReadOnlyDictionary<string, Reading<string>> files)
    {
        string? text = TextOf(files, "type")?.Trim();
        if (text is not null)
        {
            return text switch { "SD" or "SDcombo" => CardType.Sd, "MMC" => CardType.Mmc, _ => CardType.Unknown };
        }

        bool Offers(string name) => StateOf(files, name) != ReadingState.Absent;
        return (Offers("scr") || Offers("ssr"), Offers("prv") || Offers("rev")) switch
        {
            (true, false) => CardType.Sd,
            (false, true) => CardType.Mmc,
            _ => CardType.Unknown,
        };
    }

    private static Reading<T> Decode<T>(IReadOnlyDictionary<string, Reading<string>> files, string name, Func<string?, Reading<T>> parse) =>
        !files.TryGetValue(name, out Reading<string> text) ? Reading<T>.Absent()
        : text.State switch
        {
            ReadingState.Known => parse(text.Value),
            ReadingState.Unreadable => Reading<T>.Unreadable(text.Reason ?? "no reason given"),
            _ => Reading<T>.Absent(),
        };

    private static Reading<SdStatus> ParseStatus(string? text)
    {
        Reading<SdStatus> status = SdStatus.Parse(text);
        return status.IsKnown && status.Value!.IsAllZero
            ? Reading<SdStatus>.Unreadable("all zero: the kernel could not read it from the card")
            : status;
    }

    private static int? ParseRevision(string? text)
    {
        string digits = (text ?? "").Trim();
        (string number, NumberStyles style) = digits.StartsWith("0x", StringComparison.Ordinal)
            ? (digits[2..], NumberStyles.AllowHexSpecifier)
            : (digits, NumberStyles.None);
        return byte.TryParse(number, style, CultureInfo.InvariantCulture, out byte revision) ? revision : null;
    }

    private static ReadingState StateOf(IReadOnlyDictionary<string, Reading<string>> files, string name) =>
        files.TryGetValue(name, out Reading<string> text) ? text.State : ReadingState.Absent;

    private static string? TextOf(IReadOnlyDictionary<string, Reading<string>> files, string name) =>
        files.TryGetValue(name, out Reading<string> text) && text.IsKnown ? text.Value : null;
}
