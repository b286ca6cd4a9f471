using System.Globalization;
using Cardassay.Identity;
using Cardassay.Registers;
using Cardassay.Trials;
using Facts = Cardassay.Trials.Conditions;

namespace Cardassay.Agent.Commands;

/// <summary>A preview as a page for people: plain text of 80 columns, no colour.</summary>
internal static class CardPreviewPage
{
    /// <summary>Longest register text shown; the longest register, SD Status, has 128 digits. A longer text is no register.</summary>
    private const int LongestRegisterText = 128;

    internal static string Render(CardPreview preview)
    {
        var page = new PageText();
        What(page, preview);
        page.Heading("WHAT IT SAYS OF ITSELF");
        CardFactRows.Write(page, preview);
        Health(page, preview.Health);
        Registers(page, preview);
        Bus(page, preview);
        Claimed(page, preview.Claim);
        FindingRows.Write(page, preview.Judgement.Findings);
        Verdict(page, preview);
        return page.ToString();
    }

    private static void What(PageText page, CardPreview preview)
    {
        string what = (preview.Registers.Type, preview.Sighting.Attachment) switch
        {
            (CardType.Sd, _) => "an SD card in a slot of this board",
            (CardType.Mmc, _) => "an eMMC: flash memory that is usually soldered to the board",
            (_, Attachment.Reader) => "a removable medium in a USB reader",
            _ when preview.Sighting.Files.Count > 0 => "a card of a kind that could not be read",
            _ => "a disk without card registers",
        };
        page.Paragraph($"{preview.Sighting.DiskName} is {what}.", 0);
        if (preview.Sighting is { Remark: { } remark, Files.Count: > 0 })
        {
            page.Paragraph(remark, 0);
        }

        page.Heading("RECOGNISED BY");
        page.Whole("Identity", preview.Sighting.Identity.Text);
        page.Below(preview.Sighting.Identity.FromRegisters
            ? "made of what the card says of itself"
            : "made of the kernel's name, the size and the serial number of the device or reader, "
                + "because there are no registers to make it of; another card of the same size in the same place looks the same");
        if (preview.Tag is { } tag)
        {
            page.Row("Tag", tag);
        }

        if (preview.Target.Chain.Count > 1)
        {
            page.Row("Found below", string.Join(", on ", preview.Target.Chain));
        }

        if (preview.Target.Disks.Count > 1)
        {
            page.Row("Careful", $"the target spans {string.Join(", ", preview.Target.Disks)}; this page is about the first of them");
        }

        if (preview is { HoldsSystem: true, Registers.Type: CardType.Sd })
        {
            page.Row("Careful", $"the system of this board runs from it: {SlotChecks.OwnSystem}");
        }

        if (preview.Target.Remark is { } targetRemark)
        {
            page.Row("Remark", targetRemark);
        }
    }

    private static void Health(PageText page, MmcHealth? health)
    {
        if (health is null)
        {
            return;
        }

        page.Heading("ITS OWN WORD ON ITS WEAR");
        page.Row("Memory type A", Words(health.LifeTimeA, MmcHealth.LifeTimeWords));
        page.Row("Memory type B", Words(health.LifeTimeB, MmcHealth.LifeTimeWords));
        page.Row("Spare blocks", Words(health.SpareBlocks, MmcHealth.SpareBlocksWords));

        static string Words(int? code, Func<int, string> meaning) => code is int known
            ? string.Create(CultureInfo.InvariantCulture, $"{meaning(known)} (code 0x{known:x2})")
            : "not shown by this kernel";
    }

    private static void Registers(PageText page, CardPreview preview)
    {
        page.Heading("REGISTERS (the small memories in which a card describes itself)");
        if (preview.Sighting.Files.Count == 0)
        {
            page.Paragraph(
                preview.Sighting.Attachment == Attachment.Reader
                    ? "  Registers hidden by the reader. Maker, name, serial number, date of manufacture, family and marks cannot "
                        + "be told, and nothing is guessed. What can be told: the size the reader passes on, and whether a claimed "
                        + "capacity fits it. To see the rest, put the card into the slot of a board."
                    : "  None: this is not a card the kernel reads registers of.",
                2);
            return;
        }

        foreach (RegisterReading register in RegisterReading.Of(preview))
        {
            if (preview.Registers.Type == CardType.Mmc && register.FileName is "scr" or "ssr" && register.Text.State == ReadingState.Absent)
            {
                continue; // an eMMC has no such registers
            }

            page.Row(Name(register.FileName), $"{Purpose(register.FileName)}: {State(register)}");
            if (register.Text is { IsKnown: true, Value: { Length: > 0 } text })
            {
                page.Below(text.Length <= LongestRegisterText ? text
                    : string.Create(CultureInfo.InvariantCulture, $"{text[..LongestRegisterText]}... ({text.Length} characters)"));
            }
        }
    }

    private static string Name(string file) => file switch { "ssr" => "SD Status", _ => file.ToUpperInvariant() };

    private static string Purpose(string file) => file switch
    {
        "cid" => "who made it, its name, serial number and date",
        "csd" => "capacity and how it is reached",
        "scr" => "version of the standard and abilities",
        _ => "speed marks and memory layout",
    };

    private static string State(RegisterReading register) => (register.Text.State, register.Decoded) switch
    {
        (ReadingState.Absent, _) => "absent, the kernel does not show it",
        (ReadingState.Unreadable, _) => $"unreadable, {register.Reason}",
        (_, false) => $"read, but no register: {register.Reason}",
        _ => "read" + register.Checksum switch
        {
            CrcState.Valid => ", checksum valid",
            CrcState.Invalid => ", checksum INVALID",
            CrcState.NotAvailable => ", checksum not available (this board's hardware strips it)",
            _ => "",
        },
    };

    private static void Bus(PageText page, CardPreview preview)
    {
        if (preview.Sighting.Files.Count == 0)
        {
            return;
        }

        page.Heading("CONNECTION BETWEEN BOARD AND CARD");
        if (preview.Bus.Value is not { } bus)
        {
            page.Paragraph(preview.Bus.State == ReadingState.Unreadable
                ? $"  Not known: {preview.Bus.Reason}. The kernel shows it to root only; run as root, or install the helper of the package "
                    + "(`cardassay-agent bus-files --help`) and be in the group cardassay."
                : "  Not known: the kernel does not show it here (debugfs, root only).", 2);
            return;
        }

        double? ceiling = BusCeiling.BytesPerSecond(
            new Facts { BusMode = bus.Mode, BusWidthBits = bus.WidthBits, ActualClockHz = bus.ActualClockHz }, out bool isOverclocked);
        page.Row("Mode", (bus.Mode ?? "not stated")
            + (ceiling is double most
                ? string.Create(CultureInfo.InvariantCulture, $"; carries {most / 1e6:0.##} MB/s at most, whatever the card can do")
                : "")
            + (isOverclocked ? "; the clock is above the mode's own" : ""));
        page.Row("Data lines", bus.WidthBits?.ToString(CultureInfo.InvariantCulture) ?? "not stated");
        page.Row("Clock", (bus.ActualClockHz ?? bus.ClockHz) is long hertz
            ? string.Create(CultureInfo.InvariantCulture, $"{hertz / 1e6:0.##} MHz")
            : "not stated");
        page.Row("Signal voltage", bus.SignalVoltage ?? "not stated");
        page.Row("Link errors", preview.LinkErrors is long errors
            ? string.Create(CultureInfo.InvariantCulture, $"{errors} counted since the board started; they may be the slot's fault as well")
            : "not counted by this kernel");
    }

    private static void Claimed(PageText page, Claim? claim)
    {
        page.Heading("CLAIMED BY LABEL AND SHOP");
        if (claim is null)
        {
            page.Paragraph("  Nothing was said. Say what is printed on the card, and it is compared:", 2);
            page.Paragraph("  --claim-gb 64 --claim-marks \"C10 U1 A1\" --condition new", 2);
            return;
        }

        page.Row("Capacity", claim.LabelGigabytes is { } gigabytes
            ? string.Create(CultureInfo.InvariantCulture, $"{gigabytes} GB")
            : "not said (--claim-gb)");
        page.Row("Marks",
            claim.Marks switch { null => "not said (--claim-marks)", { Count: 0 } => "none", { } marks => string.Join(' ', marks) });
        Optional("Maker", claim.Maker);
        Optional("Product", claim.Product);
        Optional("Condition", claim.Condition switch { CardCondition.New => "new", CardCondition.Used => "used", _ => null });
        Optional("Bought", claim.Purchased?.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture));

        void Optional(string label, string? value)
        {
            if (value is not null)
            {
                page.Row(label, value);
            }
        }
    }

    private static void Verdict(PageText page, CardPreview preview)
    {
        Verdict verdict = preview.Judgement.Verdict;
        page.Heading($"VERDICT, A PREVIEW: {verdict.Words}");
        page.Paragraph("  " + verdict.Kind switch
        {
            VerdictKind.NotAsClaimed => "The card is not what is claimed of it; see the contradictions above.",
            VerdictKind.Doubtful => "Something speaks against the card and has to be settled; see the doubts above.",
            VerdictKind.NotProven => "Nothing speaks against the card so far, but too little is known to say more.",
            _ => "The card is what is claimed of it, as far as could be checked.",
        }, 2);
        if (verdict.Missing.Count > 0)
        {
            page.Paragraph("  What would bring a better one:", 2);
            foreach (string missing in verdict.Missing)
            {
                page.Paragraph("  - " + missing, 4);
            }
        }

        page.Paragraph(
            "  This page compares words with words. It is no proof of capacity: a counterfeit card states whatever was "
            + "written into its registers. Only writing the whole card and reading it back proves that it stores what it states.", 2);
        string day = preview.BoardDay.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
        page.Paragraph(preview.IsClockSensible
            ? $"  Today is {day} by this board's clock, which may be wrong."
            : $"  This board's clock says {day}, which is wrong; no date was compared with today.", 2);
    }
}
