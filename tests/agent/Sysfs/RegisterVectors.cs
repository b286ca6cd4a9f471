namespace Cardassay.Agent.Tests.Sysfs;

/// <summary>
/// Public register read-outs. Sources: sysfs read-outs of October 2012 (V1, V2, V4), the linux-mmc list (V7, V8), kernel bug
/// reports (V5, V11), the card of an emulator, hw/sd/sd.c (V12). Sizes: as printed by the kernel there, else by the CSD formula.
/// </summary>
public static class RegisterVectors
{
    internal static readonly IReadOnlyList<RegisterVector> Vectors =
    [
        new("V1", "03534453553032478000e22ef4009cfc", "002600325f5a83aefefbcfff928040de", "0225800000000000", null, 1_977_614_336, "0x00e22ef4"),
        new("V2", "09415041462055441047b00419007b36", "002f00325f5a83cf2db7ffbf96800068", "0125000000000000", null, 2_045_247_488, "0x47b00419"),
        new("V4", "0353445355303847800204968f00c560", "400e00325b5900003b377f800a4040ae", "0235800100000000", null, 7_948_206_080, "0x0204968f"),
        new("V5", "035344534331364780ecf4c851011b85", "400e00325b59000076b27f800a404013", "0235804300000000",
            "0000000004000000040090000f051a000000000000010000".PadRight(128, '0'), 31_116_288L * 512, "0xecf4c851"),
        new("V7", "9f544953443634476136980065013b7e", "400e00325b590001cfff7f800a4000fa", "0205848701006432",
            "000000000800000004009000011b391e000800000002ff0003".PadRight(128, '0'), 62_277_025_792, "0x36980065"),
        new("V8", "9f54495344363447614b1004af017400", "400e00325b590001cf9f7f800a400000", null, null, 62_226_694_144, "0x4b1004af"),
        new("V11", "1501004d384731474303dc0db061506f", "d02701320f5903fff6dbffef8e40400d", null, null, 7_818_182_656, "0xdc0db061", "MMC", "0x6"),
        new("V12", "aa585951454d552101deadbeef006219", "0026005a5f59e03fffffdfff92600003", null, null, 64 << 20, "0xdeadbeef"),
    ];

    /// <summary>All of them, as theory data.</summary>
    public static TheoryData<RegisterVector> All => [.. Vectors];
}
