using Cardassay.Identity;
using Cardassay.Registers;
using Cardassay.Tests.Identity;

namespace Cardassay.Simulation.Identity;

/// <summary>
/// Six kinds of fakes. How often a forger makes which slip is assumed (common practice, no source): the shares stand in the code, and
/// detection can be no better than they allow. No fake is measured here: registers, label and sightings only.
/// </summary>
internal static class SimulatedFakes
{
    /// <summary>The kinds, with what each is.</summary>
    public static readonly (string Name, Func<Random, CardEvidence> Make)[] Kinds =
    [
        ("overstated", Overstated), ("relabelled", Relabelled), ("filler serial", FillerSerial),
        ("marks painted", MarksPainted), ("cloned", Cloned), ("reworked", Reworked),
    ];

    /// <summary>An honest card with an honest label.</summary>
    public static CardEvidence Honest(Random random)
    {
        SimulatedProduct product = Any(random);
        return Judged(random, product, product.Make(random));
    }

    /// <summary>
    /// A small nameless card whose CSD states the label's capacity. The forger borrows the maker's CID (40 %) or leaves the factory's, leaves the
    /// controller's SD Status and SCR as they were (50 % each, the SCR sometimes of version 2.00), recomputes the checksum (70 %), writes the CSD by hand
    /// with a wrong fixed value (15 %).
    /// </summary>
    private static CardEvidence Overstated(Random random)
    {
        SimulatedProduct product = Any(random);
        CardRegisters real = SimulatedProduct.Nameless(random.Next(2) == 0 ? 8 : 16).Make(random);
        CardRegisters borrowed = product.Make(random);
        Csd edited = real.Csd.Value! with { DeviceSize = borrowed.Csd.Value!.DeviceSize };
        if (Chance(random, 15))
        {
            edited = edited with { EraseSectorSize = 0x1F, ReadToWriteFactor = 4 };
        }

        CardRegisters fake = real with
        {
            Cid = Chance(random, 40) ? borrowed.Cid : real.Cid,
            Csd = Reading<Csd>.Known(Chance(random, 70) ? Altered.Sealed(edited) : edited),
            Scr = Chance(random, 50) ? borrowed.Scr : Reading<Scr>.Known(real.Scr.Value! with { Spec3 = Chance(random, 70) }),
            Status = Chance(random, 50) ? borrowed.Status : real.Status,
        };
        return Judged(random, product, fake);
    }

    /// <summary>An honest card of another maker (or of nobody) and the same capacity under the label of a better one. Half of the labels also keep to marks the card declares.</summary>
    private static CardEvidence Relabelled(Random random)
    {
        SimulatedProduct product = Any(random);
        SimulatedProduct inside = Chance(random, 50)
            ? SimulatedProduct.Nameless(product.LabelGigabytes)
            : SimulatedProduct.Shelf[0] with { Maker = "other", ManufacturerId = 0x29, OemText = "OT", LabelGigabytes = product.LabelGigabytes };
        SimulatedProduct modest = Chance(random, 50) ? product with { Marks = ["C10"] } : product;
        return Judged(random, product, inside.Make(random)) with { Claim = modest.Claim };
    }

    /// <summary>
    /// A fair copy of the product whose serial number is filler: all zero or ones (30 %), digits or characters in a row (30 %), one byte repeated
    /// (10 %), a small counter (20 %), a half repeated (10 %). The last two look like numbers somebody gave.
    /// </summary>
    private static CardEvidence FillerSerial(Random random)
    {
        SimulatedProduct product = Any(random);
        uint serial = random.Next(10) switch
        {
            < 2 => 0,
            2 => uint.MaxValue,
            < 5 => 0x12345678,
            5 => 0x31323334,
            6 => (uint)random.Next(2, 255) * 0x01010101u,
            < 9 => (uint)random.Next(2, 5000),
            _ => (uint)random.Next(1, 0xFFFF) * 0x00010001u,
        };
        return Judged(random, product, product.Make(random).With(cid: c => c with { SerialNumber = serial }));
    }

    /// <summary>An honest card of one product with better marks printed on it; on 10 % of the boards SD Status cannot be read.</summary>
    private static CardEvidence MarksPainted(Random random)
    {
        SimulatedProduct product = Any(random);
        SimulatedProduct inside = product with { UhsGrade = 1, VideoClass = 0, AppClass = 0, SpecX = 0 };
        SimulatedProduct label = product with { Marks = random.Next(3) switch { 0 => ["C10", "U3", "V30"], 1 => ["C10", "U1", "A1"], _ => ["U3", "V60", "A2"] } };
        CardRegisters card = inside.Make(random);
        CardRegisters seen = Chance(random, 10) ? card with { Status = Reading<SdStatus>.Absent() } : card;
        // The true cards of the product declare what the product does, so references show the difference too.
        return Judged(random, product, seen) with { Claim = label.Claim };
    }

    /// <summary>
    /// The registers of one honest card on many. 70 % of buyers have two of them (two tags, 40 % of these at one time in two boards); in 50 % of the
    /// pairs the chips behind them differ in size.
    /// </summary>
    private static CardEvidence Cloned(Random random)
    {
        SimulatedProduct product = Any(random);
        CardRegisters card = product.Make(random);
        CardEvidence evidence = Judged(random, product, card);
        DateTimeOffset start = new(2025, 6, 1, 20, 0, 0, TimeSpan.Zero);
        IdentitySighting own = new("T", "board-1", "mmcblk0", start, start.AddHours(9), card);
        if (!Chance(random, 70))
        {
            return evidence with { Sightings = [own] };
        }

        DateTimeOffset second = start.AddHours(Chance(random, 40) ? 1 : 24);
        CardRegisters twin = Chance(random, 50) ? card.With(csd: c => c with { DeviceSize = c.DeviceSize - 512 }) : card;
        return evidence with { Sightings = [own, new("T2", "board-2", "mmcblk0", second, second.AddHours(9), twin)] };
    }

    /// <summary>
    /// A used card of the same maker, cleaned and sold as new: its date is 18 to 108 months before the purchase (65 %), rewritten to a recent one
    /// (30 %), or rewritten carelessly to one that has not come yet or is no month (5 %); a rewriter forgets the checksum in 30 %. Older cards follow older versions of the standard.
    /// </summary>
    private static CardEvidence Reworked(Random random)
    {
        SimulatedProduct product = Any(random);
        int roll = random.Next(100);
        bool forgets = Chance(random, 30);
        int monthsOld = random.Next(18, 109);
        CardRegisters card = product.Make(random);
        int month = (SimulatedProduct.Bought.Year * 12) + SimulatedProduct.Bought.Month - 1 - monthsOld;
        if (roll < 65)
        {
            card = card.With(cid: c => c with { ManufactureYearCode = (month / 12) - 2000, ManufactureMonth = (month % 12) + 1 });
        }
        else
        {
            Cid old = card.Cid.Value!;
            Cid written = roll < 95
                ? old with { ManufactureMonth = (old.ManufactureMonth % 12) + 1 }
                : old with { ManufactureYearCode = roll < 98 ? 27 : 20, ManufactureMonth = roll < 98 ? 1 : 0 };
            card = card with { Cid = Reading<Cid>.Known(forgets ? written : Altered.Sealed(written)) };
        }

        return Judged(random, product, card);
    }

    /// <summary>As a buyer would have it judged: 0, 1 or 3 references (25, 25, 50 %), a host that strips checksums on half of the boards.</summary>
    private static CardEvidence Judged(Random random, SimulatedProduct product, CardRegisters card)
    {
        int references = random.Next(4) switch { 0 => 0, 1 => 1, _ => 3 };
        CardRegisters seen = Chance(random, 50)
            ? card with
            {
                Cid = Reading<Cid>.Known(card.Cid.Value! with { Crc = 0, StopBit = false }),
                Csd = Reading<Csd>.Known(card.Csd.Value! with { Crc = 0, StopBit = false }),
            }
            : card;
        return new CardEvidence
        {
            Registers = seen,
            Claim = product.Claim,
            Today = SimulatedProduct.Today,
            References = [.. Enumerable.Range(0, references).Select(_ => product.Make(random))],
        };
    }

    private static SimulatedProduct Any(Random random) => SimulatedProduct.Shelf[random.Next(SimulatedProduct.Shelf.Length)];

    private static bool Chance(Random random, int percent) => random.Next(100) < percent;
}
