using Cardassay.Identity;
using Cardassay.Registers;
using Cardassay.Trials;
using static Cardassay.Identity.FindingSeverity;
using static Cardassay.Tests.Registers.RegisterVectors;

namespace Cardassay.Tests.Identity;

/// <summary>One fault for every rule and every way it can fire, made from public vectors.</summary>
public static partial class PlantedFaults
{
    private static readonly DateTimeOffset Noon = new(2025, 6, 15, 12, 0, 0, TimeSpan.Zero);

    /// <summary>All of them.</summary>
    public static IReadOnlyList<PlantedFault> All { get; } = [.. InRegisters(), .. AgainstClaim(), .. InTime(), .. AmongSightings(), .. AgainstReferences()];

    private static IEnumerable<PlantedFault> AgainstClaim()
    {
        // 62.277 GB: 0.93 and 1.075 are the limits of the accepted ratio.
        yield return new("capacity-against-label", "128 GB on the label", Contradiction, Claimed(c => c with { LabelGigabytes = 128 }), Claimed(c => c with { LabelGigabytes = 64 }));
        yield return new("capacity-against-label", "just below the range", Contradiction, Claimed(c => c with { LabelGigabytes = 67 }), Claimed(c => c with { LabelGigabytes = 66.9m }));
        yield return new("capacity-against-label", "just above the range", Contradiction, Claimed(c => c with { LabelGigabytes = 57.9m }), Claimed(c => c with { LabelGigabytes = 58 }));
        CardRegisters terabyte = V7.With(csd: c => c with { DeviceSize = (1L << 21) - 1 }); // 1 TiB
        yield return new("capacity-against-label", "900 GB on a card of 1 TiB", Contradiction, Claimed(c => c with { LabelGigabytes = 900 }, terabyte), Claimed(c => c with { LabelGigabytes = 1000 }, terabyte));
        yield return new("capacity-against-label", "above 1.10 at 1 TB", Contradiction, Claimed(c => c with { LabelGigabytes = 1000 }, V7.With(csd: c => c with { DeviceSize = (1L << 21) + 2000 })), Claimed(c => c with { LabelGigabytes = 2000 }, V7.With(csd: c => c with { DeviceSize = 0x3FFEFF })));
        yield return new(
            "capacity-against-label",
            "the disk of the system is no card",
            Contradiction,
            Claimed(c => c with { LabelGigabytes = 64 }, new CardRegisters { Attachment = Attachment.Reader, DiskBytes = 275_000_000_000 }),
            Claimed(c => c with { LabelGigabytes = 64 }, new CardRegisters { Attachment = Attachment.Fixed, DiskBytes = 275_000_000_000 }));
        yield return new(
            "capacity-against-label",
            "size known from the disk alone",
            Contradiction,
            Claimed(c => c with { LabelGigabytes = 64 }, new CardRegisters { Attachment = Attachment.Reader, DiskBytes = 8_000_000_000 }),
            Claimed(c => c with { LabelGigabytes = 64 }, new CardRegisters { Attachment = Attachment.Reader, DiskBytes = 64_000_000_000 }));
        yield return new("marks-against-claim", "V60 painted on", Contradiction, Claimed(c => c with { Marks = ["C10", "V60"] }), Claimed(c => c with { Marks = ["C10", "V30", "U3", "A2"] }));
        yield return new("marks-against-claim", "A1 painted on", Contradiction, Claimed(c => c with { Marks = ["A1"] }, V7.With(status: s => s with { ApplicationClass = 0 })), Claimed(c => c with { Marks = [] }));
        yield return new("marks-against-claim", "label says less", Note, Claimed(c => c with { Marks = ["U1"] }), Claimed(c => c with { Marks = ["U1"] }, V5.Registers()));
        yield return new("measured-marks", "printed", Contradiction, Measured(["V30"], false), Measured(["V30"], true));
        yield return new("measured-marks", "as this host can ask", Doubt, Measured(["V30"], false, MarkBasis.AsThisHostCanAsk), Measured(["V30"], null, MarkBasis.AsThisHostCanAsk));
        yield return new("measured-marks", "by ordinary trials", Doubt, Measured(["V30"], false, MarkBasis.OrdinaryTrials), Measured(["V30"], true, MarkBasis.OrdinaryTrials));
        yield return new("measured-marks", "declared only", Doubt, Measured([], false), Measured([], null));
        yield return new(
            "capacity-proof",
            "8 GB stored",
            Contradiction,
            Of(V7.Registers()) with { Proof = new() { Kind = CapacityProofKind.Sparse, OverstatementFound = true, TrueBytes = 8L << 30 } },
            Of(V7.Registers()) with { Proof = new() { Kind = CapacityProofKind.Sparse, LostFractionBelow = 0.01 } });
    }

    private static IEnumerable<PlantedFault> InTime()
    {
        yield return new("manufacture-month", "month 0", Doubt, Cid(c => c with { ManufactureMonth = 0 }), Cid(c => c with { ManufactureMonth = 1 }));
        yield return new("manufacture-month", "month 13", Doubt, Cid(c => c with { ManufactureMonth = 13 }), Cid(c => c with { ManufactureMonth = 12 }));
        yield return new("manufactured-in-future", "next month", Doubt, Made(2025, 7), Made(2025, 6));
        yield return new("manufactured-in-future", "no clock", Note, Made(2025, 7) with { Today = null }, Made(2025, 6));
        yield return new(
            "manufactured-after-purchase",
            "bought a month before",
            Doubt,
            Claimed(c => c with { Purchased = new DateOnly(2019, 10, 31) }),
            Claimed(c => c with { Purchased = new DateOnly(2019, 11, 1) }));
        yield return new("old-stock", "48 months", Doubt, Bought(2023, 11), Bought(2021, 10));
        yield return new("old-stock", "24 months", Note, Bought(2021, 11), Bought(2021, 10));
        yield return new("old-stock", "used cards are old", Doubt, Bought(2023, 11), Claimed(c => c with { Condition = CardCondition.Used, Purchased = new DateOnly(2023, 11, 1) }));

        // Dates of DOMAIN section 3 (SD Association, public pages), 3 months allowed.
        yield return new("feature-before-its-time", "A2 in 2016-10", Doubt, Made(2016, 10), Made(2016, 11));
        yield return new("feature-before-its-time", "A1 in 2016-07", Doubt, Of(V5.With(cid: Date(2016, 7))), Of(V5.With(cid: Date(2016, 8))));
        yield return new("feature-before-its-time", "SDXC in 2008-09", Doubt, Of(V8.With(cid: Date(2008, 9))), Of(V8.With(cid: Date(2008, 10))));
        yield return new("feature-before-its-time", "SDHC in 2006-01", Doubt, Of(V12Large.With(cid: Date(2006, 1))), Of(V12Large.With(cid: Date(2006, 2))));
        yield return new("feature-before-its-time", "version 3.0X in 2008-09", Doubt, Of(V1.With(cid: Date(2008, 9))), Of(V1.With(cid: Date(2008, 10))));
        yield return new("feature-before-its-time", "V30 in 2015-10", Doubt, OnlyVideo(2015, 10), OnlyVideo(2015, 11));
        yield return new("feature-before-its-time", "U3 in 2013-07", Doubt, OnlyUhs3(2013, 7), OnlyUhs3(2013, 8));
    }

    private static IEnumerable<PlantedFault> AmongSightings()
    {
        IdentitySighting here = new("T1", "board-a", "mmcblk0", Noon, Noon.AddHours(8), V7.Registers());
        IdentitySighting later = here with { Board = "board-b", From = Noon.AddHours(8), Until = Noon.AddHours(9) };
        CardEvidence Seen(params IdentitySighting[] sightings) => Of(V7.Registers()) with { Sightings = sightings };

        yield return new("identity-under-two-tags", "two tags", Doubt, Seen(here, later with { Tag = "T2" }), Seen(here, later, later with { Tag = null }));
        yield return new(
            "identity-under-two-tags", "tags of two laboratories", Note, Seen(here, later with { Tag = "T1@west", Collector = "west" }), Seen(here, later with { Collector = "west" }));
        yield return new("identity-in-two-places", "two boards", Contradiction, Seen(here, later with { From = Noon.AddHours(7) }), Seen(here, later));
        yield return new("identity-in-two-places", "two slots", Contradiction, Seen(here, here with { Slot = "mmcblk1" }), Seen(here, here, here with { Slot = null }));
        yield return new(
            "identity-in-two-places",
            "a short stay within a long one, in any order",
            Contradiction,
            Seen(later with { From = Noon.AddHours(6), Until = Noon.AddHours(7) }, here with { From = Noon.AddHours(3), Until = Noon.AddHours(4) }, here),
            Seen(here with { From = Noon.AddHours(3), Until = Noon.AddHours(4) }, here));
        yield return new("identity-in-two-places", "two collectors' clocks", Doubt, Seen(here, later with { From = Noon.AddHours(7), Collector = "west" }), Seen(here, later with { Collector = "west" }));
        yield return new("identity-in-two-places", "no shared clock", Contradiction, Seen(here, later with { From = Noon }), Seen(here, later with { From = null }));
        yield return new(
            "identity-with-other-registers",
            "another CSD",
            Contradiction,
            Seen(here, later with { Registers = V7.With(csd: c => c with { DeviceSize = 0x1CFFE }) }),
            Seen(here, later with { Registers = V7.With(csd: c => c with { Copy = true, TemporaryWriteProtect = true, TransferRate = 0x5A }) }));
        yield return new(
            "identity-with-other-registers",
            "another SCR",
            Contradiction,
            Seen(here, later with { Registers = V7.With(scr: s => s with { Security = 3 }) }),
            Seen(here, later with { Registers = V7.Registers() with { Scr = Reading<Scr>.Unreadable("x") } }, later with { Registers = V7.With(scr: s => s with { MakerBits = 1 }) }));
        yield return new(
            "identity-with-other-registers",
            "another SD Status",
            Doubt,
            Seen(here, later with { Registers = V7.With(status: s => s with { EraseUnits = 2 }) }),
            Seen(here, later with { Registers = V7.With(status: s => s with { BusWidthCode = 2 }) }));
        foreach (int bit in new[] { 0, 63, 64, 128, 200, 311 })
        {
            // Bits 311:0 belong to the maker and may count something (P4 4.10.2); 312 says whether the whole card can be erased at once.
            yield return new(
                "identity-with-other-registers",
                $"bit 312 against the maker's bit {bit}",
                Doubt,
                Seen(here, later with { Registers = V7.With(status: s => s with { FullEraseSupport = !s.FullEraseSupport }) }),
                Seen(here, later with { Registers = V7.With(status: s => SdStatus.Parse(s.Bits.With(bit, bit, 1).ToHex()).Value!) }, later with { Registers = V7.With(status: s => s with { SuspensionAddress = 77 }) }));
        }

        yield return new(
            "tag-with-other-identity",
            "serial number changed",
            Doubt,
            Of(V7.Registers()) with { EarlierIdentities = [V7.With(cid: c => c with { SerialNumber = 5 }).Identity!] },
            Of(V7.Registers()) with { EarlierIdentities = [V7.Registers().Identity!, CardIdentity.ForDevice("sda", 1, null)] });
    }

    private static IEnumerable<PlantedFault> AgainstReferences()
    {
        CardRegisters Reference(uint serial, Func<Cid, Cid>? cid = null, Func<Scr, Scr>? scr = null) =>
            V7.With(cid: c => (cid?.Invoke(c) ?? c) with { SerialNumber = serial }, scr: scr);
        CardEvidence Against(CardRegisters card, params CardRegisters[] references) => Of(card) with { References = references };
        CardRegisters otherMaker = V7.With(cid: c => c with { ManufacturerId = 0x11 });
        CardRegisters otherName = V7.With(cid: c => c with { ProductNameBits = 0x5345363447 });
        CardRegisters otherScr = V7.With(scr: s => s with { MakerBits = 7 });
        CardRegisters[] three = [Reference(1001), Reference(1002), Reference(1003)];

        yield return new("reference-cards", "other maker, three references", Contradiction, Against(otherMaker, three), Against(V7.Registers(), three));
        yield return new("reference-cards", "other maker, one reference", Doubt, Against(otherMaker, three[0]), Against(otherMaker, otherMaker));
        yield return new("reference-cards", "other maker, references differ", Doubt, Against(otherMaker, [.. three, Reference(4, c => c with { ManufacturerId = 0x12 })]), Against(otherMaker, [.. three, Reference(5, c => c with { ManufacturerId = 0x11 })]));
        yield return new("reference-cards", "other name pattern, two references", Doubt, Against(otherName, three[..2]), Against(V7.Registers(), three[..2]));
        yield return new("reference-cards", "other name pattern, one reference", Note, Against(otherName, three[0]), Against(V7.Registers(), three[0]));
        yield return new("reference-cards", "other SCR of the maker", Note, Against(otherScr, three), Against(otherScr, [.. three, Reference(6, scr: s => s with { MakerBits = 7 })]));
        yield return new(
            "reference-cards",
            "a reference itself",
            Note,
            Against(otherMaker, three) with { Claim = new Claim { Tag = "T", IsReference = true } },
            Against(V7.Registers(), three) with { Claim = new Claim { Tag = "T", IsReference = true } });
        yield return new(
            "reference-cards",
            "other capacity, two references",
            Doubt,
            Against(V7.With(csd: c => c with { DeviceSize = 0x1CF00 }), three[..2]),
            Against(V7.With(csd: c => c with { Copy = true }), three[..2]));
    }

    private static CardEvidence Claimed(Func<Claim, Claim> change, CardRegisters? registers = null) =>
        Of(registers ?? V7.Registers()) with { Claim = change(new Claim { Tag = "T" }) };

    private static CardEvidence Bought(int year, int month) =>
        Claimed(c => c with { Condition = CardCondition.New, Purchased = new DateOnly(year, month, 1) });

    private static CardEvidence Measured(string[] printed, bool? met, MarkBasis basis = MarkBasis.Judged) =>
        Claimed(c => c with { Marks = printed }) with { Marks = [new MarkJudgement("V30", met, "21 MB/s, 19 to 23.", basis)] };

    private static CardEvidence Made(int year, int month) => Cid(Date(year, month));

    private static CardEvidence OnlyVideo(int year, int month) => Of(V7.With(
        cid: Date(year, month),
        scr: s => s with { Spec4 = false, SpecX = 0 },
        status: s => s with { ApplicationClass = 0 }));

    private static CardEvidence OnlyUhs3(int year, int month) => Of(V7.With(
        cid: Date(year, month),
        scr: s => s with { Spec4 = false, SpecX = 0 },
        status: s => s with { ApplicationClass = 0, VideoClass = 0 }));

    private static Func<Cid, Cid> Date(int year, int month) => c => c with { ManufactureYearCode = year - 2000, ManufactureMonth = month };
}
