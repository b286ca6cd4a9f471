using Cardassay.Trials;

namespace Cardassay.Demo;

/// <summary>
/// The community weather-station network of the invented island of Tarrow: 4 boards, 24 cards, the nights that begin on
/// 2, 3 and 4 March 2026.
/// </summary>
internal static class Tarrow
{
    /// <summary>Seed of everything. Another one gives other noise around the same story.</summary>
    public const ulong Seed = 0x7A2203_2026;

    /// <summary>Currency of every price: the code ISO 4217 reserves for tests.</summary>
    public const string Currency = "XTS";

    /// <summary>Nights measured.</summary>
    public const int Nights = 3;

    /// <summary>Wall time (UTC) at which the first night begins; the others follow at 24 h.</summary>
    public static readonly DateTimeOffset FirstEvening = new(2026, 3, 2, 21, 0, 0, TimeSpan.Zero);

    private const int Skerrin = 0;
    private const int Oldmoor = 1;
    private const int Gannet = 2;
    private const int Hollin = 3;

    private static readonly int[] InTheDrawer = [-1, -1];

    /// <summary>The boards. Gannet Quay is 2.5 % slow: a longer slot cable and a busier processor, whoever asks.</summary>
    public static readonly IReadOnlyList<Board> Boards =
    [
        new("skerrin-point", 1.000),
        new("oldmoor", 1.003),
        new("gannet-quay", 0.975),
        new("hollin-down", 0.996),
    ];

    /// <summary>
    /// The cards. Eight of them swap boards for the second night and go home for the third, which ties the boards
    /// together without making any card seem to drift.
    /// </summary>
    public static readonly IReadOnlyList<Card> Cards =
    [
        Of("T-01", Products.Fathom, 0x1A04C3E1, 2024, 9, Skerrin, slot: 0, visits: Gannet) with { IsReference = true, Repetitions = 9, Proof = ProofKind.Full },
        Of("T-02", Products.Fathom, 0x1A04C9B7, 2024, 9, Skerrin, slot: 1),
        Of("T-03", Products.Fathom, 0x19F0217D, 2023, 2, Hollin, slot: 0) with { Fault = Fault.Worn },
        Of("T-04", Products.Fathom, 0x00021C5A, 2024, 7, Oldmoor, slot: 0) with
        {
            Fault = Fault.Relabelled, Inside = Products.PlainUnderOtherLabel, Price = 11.20m,
        },
        Of("T-05", Products.Shoal, 0x1C11D802, 2024, 5, Skerrin, slot: 2, visits: Oldmoor),
        Of("T-06", Products.Shoal, 0x1C11DA46, 2024, 5, Gannet, slot: 1) with { Proof = ProofKind.Unknown },
        Of("T-07", Products.Courier, 0x6E00917F, 2024, 11, Oldmoor, slot: 1, visits: Hollin) with { IsReference = true, Repetitions = 9 },
        Of("T-08", Products.Courier, 0x6E0077A5, 2024, 10, Oldmoor, slot: 3) with { Fault = Fault.Cloned },
        Of("T-09", Products.Courier, 0x6E0077A5, 2024, 10, Hollin, slot: 3) with { Fault = Fault.Cloned },
        Of("T-10", Products.Herald, 0x7100A3D4, 2024, 8, Oldmoor, slot: 2, visits: Skerrin),
        Of("T-11", Products.Herald, 0x7100A40C, 2024, 8, Oldmoor, slot: 4),
        Of("T-12", Products.Herald, 0x7100B2F9, 2025, 1, Skerrin, slot: 3) with { Repetitions = 5, Boards = [.. InTheDrawer, Skerrin] },
        Of("T-13", Products.Bulwark, 0x0B9A5510, 2024, 4, Gannet, slot: 0, visits: Skerrin) with { IsReference = true, Repetitions = 9 },
        Of("T-14", Products.Bulwark, 0x0B9A5A8E, 2024, 4, Gannet, slot: 2, visits: Hollin),
        Of("T-15", Products.BulwarkMax, 0x0B9A0001, 2024, 6, Gannet, slot: 3) with { Fault = Fault.Overstated },
        Of("T-16", Products.Keel, 0x0D300B71, 2024, 3, Skerrin, slot: 4),
        Of("T-17", Products.Keel, 0x0D300BA9, 2024, 3, Gannet, slot: 4) with { Proof = ProofKind.Unknown },
        Of("T-18", Products.Keel, 0x0D300C3C, 2024, 3, Hollin, slot: Board.HighSpeedSlot),
        Of("T-19", Products.Sprat, 0x90005D12, 2025, 2, Hollin, slot: 1, visits: Oldmoor) with { IsReference = true, Repetitions = 9, Proof = ProofKind.Full },
        Of("T-20", Products.Sprat, 0x90005E40, 2025, 2, Hollin, slot: 2, visits: Gannet),
        Of("T-21", Products.Sprat, 0x90005FA8, 2025, 2, Hollin, slot: 4),
        Of("T-22", Products.Drift, 0x8800120B, 2023, 11, Skerrin, slot: Board.HighSpeedSlot) with { Proof = ProofKind.Full },
        Of("T-23", Products.Drift, 0x88001277, 2023, 11, Oldmoor, slot: Board.HighSpeedSlot),
        Of("T-24", Products.Drift, 0x880013E5, 2023, 11, Gannet, slot: Board.HighSpeedSlot) with { Repetitions = 5, Boards = [.. InTheDrawer, Gannet] },
    ];

    private static Card Of(string tag, Product product, uint serial, int year, int month, int home, int slot, int? visits = null) => new()
    {
        Tag = tag,
        Product = product,
        Serial = serial,
        Made = (year, month),
        Boards = [home, visits ?? home, home],
        Slot = slot,
        Bought = new DateOnly(2025, 11, 3).AddDays((int)(serial % 80)),
    };
}
