namespace Cardassay.EmulatedBoard.Harness;

/// <summary>What every emulated card is called.</summary>
public static class EmulatedIdentity
{
    /// <summary>Its CID as the kernel shows it. Source: `hw/sd/sd.c` of the emulator; the SDHCI host strips the CRC, 19, to 00.</summary>
    public const string Cid = "aa585951454d552101deadbeef006200";

    /// <summary>The text that consents to overwriting it.</summary>
    public static string Text { get; } = Identity.CardIdentity.FromCid(Cardassay.Registers.Cid.Parse(Cid).Value!).Text;
}
