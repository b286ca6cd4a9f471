namespace Cardassay.Demo;

/// <summary>The cards on sale on Tarrow. Every maker, product, number and price is invented.</summary>
internal static class Products
{
    public static readonly Product Fathom = new()
    {
        Maker = "Halvorn",
        Name = "Fathom",
        LabelGigabytes = 64,
        Marks = ["C10", "U3", "V30", "A1"],
        StatedReadMegabytes = 80,
        StatedWriteMegabytes = 40,
        Price = 13.90m,
        Silicon = new Silicon
        {
            ManufacturerId = 0xF1,
            OemId = "HV",
            Name = "FT64H",
            Revision = 0x21,
            CSize = 0x1CFFF,
            SpecX = 1,
            CommandSupport = 3,
            UhsGrade = 3,
            VideoClass = 30,
            AppClass = 1,
            Pace = new Pace(2750, 980, 210, 88, 54),
        },
    };

    public static readonly Product Shoal = new()
    {
        Maker = "Halvorn",
        Name = "Shoal",
        LabelGigabytes = 32,
        Marks = ["C10", "U1", "A1"],
        StatedReadMegabytes = 75,
        StatedWriteMegabytes = 20,
        Price = 7.20m,
        Silicon = new Silicon
        {
            ManufacturerId = 0xF1,
            OemId = "HV",
            Name = "SH32H",
            Revision = 0x20,
            CSize = 0xEDC7,
            SpecX = 1,
            CommandSupport = 3,
            UhsGrade = 1,
            VideoClass = 0,
            AppClass = 1,
            Pace = new Pace(1980, 640, 130, 82, 24),
        },
    };

    public static readonly Product Courier = new()
    {
        Maker = "Quillon",
        Name = "Courier",
        LabelGigabytes = 32,
        Marks = ["C10", "U1", "A1"],
        StatedReadMegabytes = 75,
        StatedWriteMegabytes = 20,
        Price = 7.80m,
        Silicon = new Silicon
        {
            ManufacturerId = 0xF2,
            OemId = "QN",
            Name = "CQ032",
            Revision = 0x14,
            CSize = 0xE8FF,
            SpecX = 1,
            CommandSupport = 3,
            UhsGrade = 1,
            VideoClass = 0,
            AppClass = 1,
            Pace = new Pace(2010, 655, 128, 83, 25.5),
        },
    };

    public static readonly Product Herald = new()
    {
        Maker = "Quillon",
        Name = "Herald",
        LabelGigabytes = 128,
        Marks = ["C10", "U3", "V30", "A2"],
        StatedReadMegabytes = 85,
        StatedWriteMegabytes = 60,
        Price = 24.50m,
        Silicon = new Silicon
        {
            ManufacturerId = 0xF2,
            OemId = "QN",
            Name = "HQ128",
            Revision = 0x30,
            CSize = 0x3B5FF,
            SpecX = 2,
            CommandSupport = 7,
            UhsGrade = 3,
            VideoClass = 30,
            AppClass = 2,
            Pace = new Pace(3150, 1180, 260, 90.5, 67),
        },
    };

    public static readonly Product Bulwark = new()
    {
        Maker = "Ostervane",
        Name = "Bulwark",
        LabelGigabytes = 128,
        Marks = ["C10", "U3", "V30", "A1"],
        StatedReadMegabytes = 80,
        StatedWriteMegabytes = 50,
        Price = 22.00m,
        Silicon = new Silicon
        {
            ManufacturerId = 0xF3,
            OemId = "OV",
            Name = "BW128",
            Revision = 0x12,
            CSize = 0x3A3FF,
            SpecX = 1,
            CommandSupport = 3,
            UhsGrade = 3,
            VideoClass = 30,
            AppClass = 1,
            Pace = new Pace(2690, 930, 200, 87, 58),
        },
    };

    /// <summary>No honest one was ever on sale: what is inside calls itself a Bulwark of 128 GB and keeps 30.59 GB.</summary>
    public static readonly Product BulwarkMax = new()
    {
        Maker = "Ostervane",
        Name = "Bulwark Max",
        LabelGigabytes = 256,
        Marks = ["C10", "U3", "V30", "A1"],
        Price = 19.00m,
        Silicon = Bulwark.Silicon with { Pace = new Pace(1720, 575, 74, 71, 36), StoredBytes = 7_467_545 * 4096L },
    };

    public static readonly Product Keel = new()
    {
        Maker = "Ostervane",
        Name = "Keel",
        LabelGigabytes = 64,
        Marks = ["C10", "U1", "V10", "A1"],
        Price = 9.40m,
        Silicon = new Silicon
        {
            ManufacturerId = 0xF3,
            OemId = "OV",
            Name = "KL064",
            Revision = 0x11,
            CSize = 0x1CF9F,
            SpecX = 1,
            CommandSupport = 3,
            UhsGrade = 1,
            VideoClass = 10,
            AppClass = 1,
            Pace = new Pace(1790, 600, 112, 80, 30),
        },
    };

    /// <summary>The superb cheap one.</summary>
    public static readonly Product Sprat = new()
    {
        Maker = "Brightmere",
        Name = "Sprat",
        LabelGigabytes = 64,
        Marks = ["C10", "U3", "V30", "A2"],
        StatedReadMegabytes = 85,
        StatedWriteMegabytes = 60,
        Price = 5.40m,
        Silicon = new Silicon
        {
            ManufacturerId = 0xF4,
            OemId = "BM",
            Name = "SP64B",
            Revision = 0x42,
            CSize = 0x1D2BF,
            SpecX = 2,
            CommandSupport = 7,
            UhsGrade = 3,
            VideoClass = 30,
            AppClass = 2,
            Pace = new Pace(3920, 1720, 430, 92, 73),
        },
    };

    public static readonly Product Drift = new()
    {
        Maker = "Brightmere",
        Name = "Drift",
        LabelGigabytes = 16,
        Marks = ["C10"],
        StatedReadMegabytes = 20,
        StatedWriteMegabytes = 12,
        Price = 3.60m,
        Silicon = new Silicon
        {
            ManufacturerId = 0xF4,
            OemId = "BM",
            Name = "DR16B",
            Revision = 0x10,
            CSize = 0x76B2,
            SpecX = 0,
            CommandSupport = 0,
            UhsGrade = 0,
            VideoClass = 0,
            AppClass = 0,
            Pace = new Pace(950, 155, 39, 22.3, 14.2),
        },
    };

    /// <summary>What hides under the label of the relabelled card: a plain card of another maker.</summary>
    public static readonly Silicon PlainUnderOtherLabel = new()
    {
        ManufacturerId = 0xF4,
        OemId = "BM",
        Name = "PL64B",
        Revision = 0x10,
        CSize = 0x1CF7F,
        SpecX = 0,
        CommandSupport = 0,
        UhsGrade = 1,
        VideoClass = 0,
        AppClass = 0,
        Pace = new Pace(910, 118, 31, 43, 16),
    };
}
