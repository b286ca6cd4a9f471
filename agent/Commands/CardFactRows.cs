using System.Globalization;
using Cardassay.Identity;
using Cardassay.Registers;
using Cardassay.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>What a card says of itself, row by row, each with a word of explanation.</summary>
internal static class CardFactRows
{
    internal static void Write(PageText page, CardPreview preview)
    {
        CardFacts facts = preview.Facts;
        Capacity(page, preview);
        if (facts.ProductName is { } name)
        {
            page.Row("Product name", $"\"{name}\"");
        }

        if (facts.ProductRevision is { } revision)
        {
            page.Row("Revision", $"{revision}, counted by the maker");
        }

        if (facts.SerialNumber is uint serial)
        {
            page.Row("Serial number", Invariant($"0x{serial:x8}; no two cards of a maker should share it"));
        }

        if (facts.ManufacturerId is int maker)
        {
            page.Row("Maker id", Invariant($"0x{maker:x2}; ids are given out privately: no public list says whose it is"));
        }

        if (facts.OemId is int oem)
        {
            string text = preview.Registers.Cid.Value is { } cid ? $" (\"{cid.OemText}\")" : "";
            page.Row("OEM id", Invariant($"0x{oem:x4}{text}; for whom it was made, given out privately as well"));
        }

        if (facts.Manufactured is { } made)
        {
            page.Row("Made", made.IsPossible
                ? Invariant($"{made} ({new DateOnly(made.Year, made.Month, 1):MMMM yyyy})") + YearRemark(preview.Registers)
                : $"{made}, a month that does not exist");
        }

        if (facts.Family is { } family)
        {
            page.Row("Family", family switch
            {
                "SDSC" => "SDSC, standard capacity: up to 2 GB",
                "SDHC" => "SDHC, high capacity: more than 2 GB, up to 32 GB",
                "SDXC" => "SDXC, extended capacity: more than 32 GB, up to 2 TB",
                "SDUC" => "SDUC, ultra capacity: more than 2 TB, up to 128 TB",
                _ => family,
            });
        }

        if (facts.SpecVersion is { } version)
        {
            page.Row("Standard", $"built to version {version} of the SD standard");
        }

        if (preview.Registers.Type == CardType.Sd)
        {
            Status(page, preview);
        }
    }

    private static void Capacity(PageText page, CardPreview preview)
    {
        if (preview.Facts.CapacityBytes is not long bytes)
        {
            page.Row("Capacity", "not known");
            return;
        }

        string source = preview.Registers.Csd.Value?.CapacityBytes is not null || preview.Registers.MmcCsd.Value?.CapacityBytes is not null
            ? "as the card states it"
            : preview.Registers.Attachment == Attachment.Reader ? "as the reader passes it on"
            : "as the kernel states the size of the disk";
        page.Row("Capacity", Invariant(
            $"{Decimal(bytes)}, the way labels count; {Binary(bytes)}, the way many programs count ({bytes:N0} bytes, {source})"));
    }

    private static void Status(PageText page, CardPreview preview)
    {
        if (preview.Registers.Status.Value is not { } status)
        {
            page.Row("Speed marks", "not known, because SD Status could not be read (see below)");
            return;
        }

        IReadOnlyList<SpeedMark> marks = SpeedMark.DeclaredBy(status);
        page.Row("Speed marks", marks.Count == 0
            ? "the card declares none"
            : $"{string.Join(' ', marks)}, declared by the card, not measured:");
        foreach (SpeedMark mark in marks)
        {
            page.Below($"{mark,-3}  {Meaning(mark)}");
        }

        if (status.AllocationUnitBytes is long unit)
        {
            page.Row("Allocation unit", $"{Binary(unit)}; the piece in which the card manages its memory");
        }

        if (preview.Facts.ProtectedAreaBytes is long area and > 0)
        {
            page.Row("Protected area", $"{Binary(area)} set aside for copy protection, not part of the capacity");
        }

        string[] abilities =
        [
            .. new[]
            {
                (status.CommandQueue > 0, "command queue"), (status.Cache, "write cache"), (status.CardMaintenance, "tidies up by itself"),
                (status.HostMaintenance, "tidies up when told"), (status.DiscardSupport, "discard"),
                (status.FullEraseSupport, "quick full erase"),
            }.Where(a => a.Item1).Select(a => a.Item2),
        ];
        if (abilities.Length > 0)
        {
            page.Row("Abilities", string.Join(", ", abilities));
        }
    }

    /// <summary>What a mark promises (SD Association, public pages; P4 4.13).</summary>
    private static string Meaning(SpeedMark mark) => mark switch
    {
        { Kind: 'U' } => Invariant($"writes at least {mark.Level * 10} MB/s in one go, on a fast (UHS) bus"),
        { Kind: 'V' } => Invariant($"records video at {mark.Level} MB/s at least"),
        { Kind: 'A', Level: 1 } => "at least 1500 random reads and 500 random writes a second",
        { Kind: 'A' } => "at least 4000 random reads and 2000 random writes a second, on a board that has the command queue",
        _ => Invariant($"writes at least {mark.Level} MB/s in one go"),
    };

    /// <summary>The year of an eMMC below 2010 cannot be told from the year 16 later without a second register (K `mmc.c`).</summary>
    private static string YearRemark(CardRegisters registers) =>
        registers is { Type: CardType.Mmc, ExtCsdRevision: null, Manufactured.Year: < 2010 }
            ? ", or 16 years later: the kernel does not show the revision that tells which"
            : "";

    /// <summary>Decimal units, as on labels.</summary>
    internal static string Decimal(long bytes) => bytes switch
    {
        < 1_000_000_000 => Invariant($"{bytes / 1e6:F2} MB"),
        < 1_000_000_000_000 => Invariant($"{bytes / 1e9:F2} GB"),
        _ => Invariant($"{bytes / 1e12:F2} TB"),
    };

    /// <summary>Binary units; a whole number of them without decimals.</summary>
    internal static string Binary(long bytes)
    {
        (long unit, string name) = bytes switch
        {
            < 1L << 20 => (1L << 10, "KiB"),
            < 1L << 30 => (1L << 20, "MiB"),
            < 1L << 40 => (1L << 30, "GiB"),
            _ => (1L << 40, "TiB"),
        };
        return bytes % unit == 0 ? Invariant($"{bytes / unit} {name}") : Invariant($"{(double)bytes / unit:F2} {name}");
    }

    private static string Invariant(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
