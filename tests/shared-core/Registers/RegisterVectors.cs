using Cardassay.Identity;
using Cardassay.Registers;
using Cardassay.Trials;

namespace Cardassay.Tests.Registers;

/// <summary>
/// Registers of real cards and of the emulator's card, as public kernel lists, bug reports and sysfs read-outs show them. The
/// texts are data; nothing here says who made a card. "crc7 ok (e0)" means that the host cleared bit 0 of the last byte.
/// </summary>
public sealed record RegisterVector(string Name, string Type, string Cid, string Csd, string? Scr = null, string? Ssr = null, string? Revision = null)
{
    /// <summary>The vector as a board would report it.</summary>
    public CardRegisters Registers(long diskBytes = 0) => CardRegisters.From(Files(), diskBytes, Attachment.Slot);

    /// <summary>The register files of the vector.</summary>
    public Dictionary<string, Reading<string>> Files()
    {
        Dictionary<string, Reading<string>> files = new() { ["type"] = Reading<string>.Known(Type) };
        foreach ((string name, string? text) in new[] { ("cid", Cid), ("csd", Csd), ("scr", Scr), ("ssr", Ssr), ("rev", Revision) })
        {
            if (text is not null)
            {
                files[name] = Reading<string>.Known(text);
            }
        }

        return files;
    }
}

/// <summary>The vectors by their numbers in the project's domain reference.</summary>
public static class RegisterVectors
{
    /// <summary>SDSC, public sysfs read-out of October 2012 (e0).</summary>
    public static readonly RegisterVector V1 =
        new("V1", "SD", "03534453553032478000e22ef4009cfc", "002600325f5a83aefefbcfff928040de", "0225800000000000");

    /// <summary>SDSC, same read-out (e0).</summary>
    public static readonly RegisterVector V2 =
        new("V2", "SD", "09415041462055441047b00419007b36", "002f00325f5a83cf2db7ffbf96800068", "0125000000000000");

    /// <summary>SDHC, same read-out (e0).</summary>
    public static readonly RegisterVector V4 =
        new("V4", "SD", "0353445355303847800204968f00c560", "400e00325b5900003b377f800a4040ae", "0235800100000000");

    /// <summary>SDHC with SD Status, public sysfs read-out.</summary>
    public static readonly RegisterVector V5 =
        new("V5", "SD", "035344534331364780ecf4c851011b85", "400e00325b59000076b27f800a404013", "0235804300000000", Ssr("0000000004000000040090000f051a000000000000010000"));

    /// <summary>SDXC with SD Status, kernel mailing list (e0).</summary>
    public static readonly RegisterVector V7 =
        new("V7", "SD", "9f544953443634476136980065013b7e", "400e00325b590001cfff7f800a4000fa", "0205848701006432", Ssr("000000000800000004009000011b391e000800000002ff0003"));

    /// <summary>SDXC, kernel mailing list, checksum stripped by the host.</summary>
    public static readonly RegisterVector V8 =
        new("V8", "SD", "9f54495344363447614b1004af017400", "400e00325b590001cf9f7f800a400000");

    /// <summary>eMMC of extended CSD revision 6.</summary>
    public static readonly RegisterVector V11 =
        new("V11", "MMC", "1501004d384731474303dc0db061506f", "d02701320f5903fff6dbffef8e40400d", Revision: "0x6");

    /// <summary>The emulator's card of 64 MiB (`hw/sd/sd.c`).</summary>
    public static readonly RegisterVector V12Small = new("V12 64 MiB", "SD", EmulatorCid, "0026005a5f59e03fffffdfff92600003");

    /// <summary>The emulator's card of 8 GiB.</summary>
    public static readonly RegisterVector V12Large = new("V12 8 GiB", "SD", EmulatorCid, "400e00325b5900003fff7f800a400085");

    private const string EmulatorCid = "aa585951454d552101deadbeef006219";

    /// <summary>The cards that were sold as what they are.</summary>
    public static IReadOnlyList<RegisterVector> Genuine => [V1, V2, V4, V5, V7, V8, V11];

    /// <summary>All of them.</summary>
    public static IReadOnlyList<RegisterVector> All => [.. Genuine, V12Small, V12Large];

    private static string Ssr(string start) => start.PadRight(128, '0');
}
