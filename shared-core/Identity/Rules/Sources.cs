namespace Cardassay.Identity.Rules;

/// <summary>Where the rules come from, as findings state it.</summary>
internal static class Sources
{
    public const string Standard = "SD Part 1 Physical Layer Simplified Specification 4.10";
    public const string Cid = Standard + ", 5.2";
    public const string Csd = Standard + ", 5.3";
    public const string Scr = Standard + ", 5.6";
    public const string Status = Standard + ", 4.10.2";
    public const string Later = "SD Part 1 Physical Layer Simplified Specification 9.10, as quoted on public mailing lists";
    public const string Kernel = "Linux 6.1, drivers/mmc";
    public const string Practice = "common practice, no source";
    public const string Memory = "from memory, unverified";

    /// <summary>What settles most oddities of one register.</summary>
    public const string ReadElsewhere = "Read the registers on another board; if they stay the same, compare with a reference card.";
}
