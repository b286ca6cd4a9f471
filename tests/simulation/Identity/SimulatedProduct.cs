using Cardassay.Identity;
using Cardassay.Registers;
using Cardassay.Tests.Identity;
using Cardassay.Trials;

namespace Cardassay.Simulation.Identity;

/// <summary>A product of an invented maker: what its cards say and what is printed on them.</summary>
internal sealed record SimulatedProduct(
    string Maker, int ManufacturerId, string OemText, string NameStart, int LabelGigabytes, string[] Marks, int SpecX, int UhsGrade, int VideoClass, int AppClass)
{
    /// <summary>Day every simulated card is bought.</summary>
    public static readonly DateOnly Bought = new(2025, 3, 10);

    /// <summary>Day every simulated card is judged.</summary>
    public static readonly DateOnly Today = new(2025, 6, 15);

    /// <summary>Products on the shelf.</summary>
    public static readonly SimulatedProduct[] Shelf =
    [
        new("Halvorn", 0x31, "HV", "HV", 32, ["C10", "U1", "A1"], 1, 1, 0, 1),
        new("Halvorn", 0x31, "HV", "HX", 64, ["C10", "U3", "V30", "A2"], 2, 3, 30, 2),
        new("Quillon", 0x52, "QL", "QC", 128, ["C10", "U3", "V30", "A1"], 1, 3, 30, 1),
        new("Ostervane", 0x63, "OV", "OV", 64, ["C10", "U1"], 0, 1, 0, 0),
        new("Brightmere", 0x74, "BM", "BR", 256, ["C10", "U3", "V30", "A2"], 2, 3, 30, 2),
    ];

    /// <summary>What a nameless factory sells to whoever prints labels.</summary>
    public static SimulatedProduct Nameless(int labelGigabytes) => new("nobody", 0x9A, "XX", "SD", labelGigabytes, ["C10"], 0, 0, 0, 0);

    /// <summary>The claim on the pack.</summary>
    public Claim Claim => new()
    {
        Tag = "T",
        Maker = Maker,
        Product = NameStart + LabelGigabytes,
        LabelGigabytes = LabelGigabytes,
        Marks = Marks,
        Condition = CardCondition.New,
        Purchased = Bought,
    };

    /// <summary>A card as the maker ships it: batches differ in revision and in the maker's own bits, months in the date.</summary>
    public CardRegisters Make(Random random)
    {
        int batch = random.Next(3);
        int monthsOld = random.Next(2, 20);
        int month = (Bought.Year * 12) + Bought.Month - 1 - monthsOld;
        string name = $"{NameStart}{LabelGigabytes:D3}";
        bool extended = LabelGigabytes > 32;
        Cid cid = Altered.Sealed(new Cid
        {
            ManufacturerId = ManufacturerId,
            OemId = (OemText[0] << 8) | OemText[1],
            ProductNameBits = name.Aggregate(0UL, (bits, c) => (bits << 8) | c),
            RevisionMajor = 1,
            RevisionMinor = batch,
            SerialNumber = (uint)random.NextInt64(0x0100_0000, 0xFFFF_FFFF),
            ManufactureYearCode = (month / 12) - 2000,
            ManufactureMonth = (month % 12) + 1,
        });
        return new CardRegisters
        {
            Type = CardType.Sd,
            Attachment = Attachment.Slot,
            Cid = Reading<Cid>.Known(cid),
            Csd = Reading<Csd>.Known(CsdOf(LabelGigabytes)),
            Scr = Reading<Scr>.Known(new Scr
            {
                Spec = 2, Spec3 = true, SpecX = SpecX, Security = extended ? 4 : 3, BusWidths = 5, MakerBits = (uint)batch,

                // CMD20 and CMD23; a queue is switched on by CMD48 and CMD49, which the public registers of the A2 card V7 declare too.
                CommandSupport = AppClass == 2 ? 7 : 3,
            }),
            Status = Reading<SdStatus>.Known(new SdStatus
            {
                ProtectedArea = extended ? 128u << 20 : 64u << 20, SpeedClassCode = 4, AllocationUnitCode = 9, EraseUnits = 8, EraseTimeoutSeconds = 2,
                EraseOffsetSeconds = 1, UhsGrade = UhsGrade, UhsAllocationUnitCode = UhsGrade > 0 ? 9 : 0, VideoClass = VideoClass,
                VideoAllocationUnitMegabytes = VideoClass > 0 ? 8 : 0, ApplicationClass = AppClass, CommandQueue = AppClass == 2 ? 31 : 0,
                Cache = AppClass == 2, CardMaintenance = AppClass == 2,
            }),
        };
    }

    /// <summary>A correct CSD of version 2 with 97.2 % of the label.</summary>
    public static Csd CsdOf(int labelGigabytes) => Altered.Sealed(new Csd
    {
        Structure = 1, Taac = 0x0E, TransferRate = 0x32, CommandClasses = 0x5B5, ReadBlockLength = 9,
        DeviceSize = (long)(labelGigabytes * 972_000_000m / (1 << 19)) - 1,
        EraseSingleBlock = true, EraseSectorSize = 0x7F, ReadToWriteFactor = 2, WriteBlockLength = 9,
    });
}
