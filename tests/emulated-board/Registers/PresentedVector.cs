namespace Cardassay.EmulatedBoard.Registers;

/// <summary>Registers of a real card from a public read-out, and what that read-out or a plain reading of the fields says it is.</summary>
/// <param name="Name">Its number among the project's register vectors.</param>
/// <param name="Cid">CID, 32 hex digits.</param>
/// <param name="Csd">CSD, 32 hex digits.</param>
/// <param name="Scr">SCR, 16 hex digits; null where the read-out has none: the file is empty then.</param>
/// <param name="SsrStart">Start of SD Status, zeros follow; null where the read-out has none.</param>
/// <param name="ProductName">Product name.</param>
/// <param name="SerialNumber">Serial number as JSON text.</param>
/// <param name="Manufactured">Month of manufacture.</param>
/// <param name="CapacityBytes">User area.</param>
/// <param name="CidCrc">State of the CID's checksum.</param>
public sealed record PresentedVector(
    string Name,
    string Cid,
    string Csd,
    string? Scr,
    string? SsrStart,
    string ProductName,
    string SerialNumber,
    string Manufactured,
    long CapacityBytes,
    string CidCrc)
{
    /// <summary>SD cards of public kernel lists, bug reports and sysfs read-outs. V8's host strips checksums.</summary>
    public static IReadOnlyList<PresentedVector> All { get; } =
    [
        new("V1", "03534453553032478000e22ef4009cfc", "002600325f5a83aefefbcfff928040de", "0225800000000000", null,
            "SU02G", "0x00e22ef4", "2009-12", 1_977_614_336, "valid"),
        new("V2", "09415041462055441047b00419007b36", "002f00325f5a83cf2db7ffbf96800068", "0125000000000000", null,
            "AF UD", "0x47b00419", "2007-11", 2_045_247_488, "valid"),
        new("V4", "0353445355303847800204968f00c560", "400e00325b5900003b377f800a4040ae", "0235800100000000", null,
            "SU08G", "0x0204968f", "2012-05", 7_948_206_080, "valid"),
        new("V5", "035344534331364780ecf4c851011b85", "400e00325b59000076b27f800a404013", "0235804300000000",
            "0000000004000000040090000f051a000000000000010000", "SC16G", "0xecf4c851", "2017-11", 31_116_288L * 512, "valid"),
        new("V7", "9f544953443634476136980065013b7e", "400e00325b590001cfff7f800a4000fa", "0205848701006432",
            "000000000800000004009000011b391e000800000002ff0003", "SD64G", "0x36980065", "2019-11", 62_277_025_792, "valid"),
        new("V8", "9f54495344363447614b1004af017400", "400e00325b590001cf9f7f800a400000", null, null,
            "SD64G", "0x4b1004af", "2023-04", 62_226_694_144, "notAvailable"),
    ];

    /// <summary>Arguments of the scenario `present` after the disk.</summary>
    public IEnumerable<string> Files
    {
        get
        {
            yield return $"cid={Cid}";
            yield return $"csd={Csd}";
            yield return FormattableString.Invariant($"size={CapacityBytes / 512}");
            yield return $"scr={Scr}";
            yield return $"ssr={SsrStart?.PadRight(128, '0')}";
        }
    }

    /// <inheritdoc/>
    public override string ToString() => Name;
}
