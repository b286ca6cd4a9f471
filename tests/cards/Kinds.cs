using static Cardassay.Identity.ProofWord;

namespace Cardassay.Cards.Tests;

/// <summary>The kinds of card.</summary>
internal static class Kinds
{
    private static readonly CardSize Size = CardSize.Now;

    /// <summary>Cards that keep what they claim, as well as their faults let them.</summary>
    public static IReadOnlyList<Kind> Honest { get; } =
    [
        new("honest", "", [NoOverstatementFound], [NoOverstatementFound]),
        new("slow", "slow=300", [NoOverstatementFound], [NoOverstatementFound]),
        new("with a cache", "cache=2048", [NoOverstatementFound], [NoOverstatementFound]),
        new("of an odd size", "", [NoOverstatementFound], [NoOverstatementFound]) { Bytes = Size.Bytes + (5 * 512) },
        new("of 1 MiB", "", [NoOverstatementFound], [NoOverstatementFound]) { Bytes = 1 << 20 },
        new("used before", "", [NoOverstatementFound], [NoOverstatementFound]) { HasEarlierPass = true },
        new("used before, then discarded whole", "", [NoOverstatementFound], [NoOverstatementFound]) { HasEarlierPass = true, IsDiscarded = true },
        new("prepares 0.9 s before its first write", "prepare=900", [NoOverstatementFound], [NoOverstatementFound]),
        new("write fails once", "once=write:200", [NoOverstatementFound], [NoOverstatementFound]),
        new("read fails once", "once=read:200", [NoOverstatementFound], [NoOverstatementFound]),
        new("flush fails once", "once=flush:0", [NoOverstatementFound], [NoOverstatementFound]),
        new("1 bad block", "bad=1", [NoOverstatementFound, Defective], [Defective]),
        new("16 bad blocks", "bad=16", [NoOverstatementFound, Defective], [Defective]),
        new($"{Many} bad blocks", $"bad={Many}", [NoOverstatementFound, Defective], [Defective]),
        new("1 flipped bit", "flip=1", [NoOverstatementFound, Defective], [Defective]),
        new($"{Many} flipped bits", $"flip={Many}", [NoOverstatementFound, Defective], [Defective]),
        new("flipped bit in every hundredth block", $"flip={Size.Bytes / 409_600}", [Defective], [Defective]),
        new("16 blocks take no write", "refuse=16", [NoOverstatementFound, NotJudged], [NotJudged]),
    ];

    /// <summary>Cards, links and readers that are away for a while, or for good: the name of the card must not suffer.</summary>
    public static IReadOnlyList<Kind> Away { get; } =
    [
        .. from operation in new[] { "write", "read", "flush" }
           from seconds in new[] { 1, 10, 40 }
           select new Kind($"away {seconds} s from a {operation} on", $"away={operation}:{(operation == "flush" ? 1 : 300)}:{1000 * seconds}", [NoOverstatementFound, NotJudged], [NoOverstatementFound, NotJudged]),
        new("gone for good while writing", "gone=write:300", [NotJudged], [NotJudged]),
        new("gone for good while reading", "gone=read:300", [NotJudged], [NotJudged]),
        new("takes no write from the middle on", $"refusefrom={Size.Part(0.05) / 4096}", [NotJudged], [NotJudged]),
        new("never takes a write", "refusefrom=0", [NotJudged], [NotJudged]),
    ];

    /// <summary>Cards that do not keep what they claim. A sparse proof may acquit only where its printed assumption says so.</summary>
    public static IReadOnlyList<Kind> Lying { get; } =
    [
        Liar("wraps at half", "lie=wrap", Size.Part(0.5)) with { TrueBytes = Size.Part(0.5) },
        Liar("wraps at a prime number of sectors", "lie=wrap", 104_729 * 512) with { TrueBytes = 104_729 * 512 },
        Liar("wraps at another prime", "lie=wrap", 7_919 * 512) with { TrueBytes = 7_919 * 512 },
        Liar("wraps one block below the claim", "lie=wrap", Size.Bytes - 4096) with { TrueBytes = Size.Bytes - 4096 },
        Liar("folds the top into a low window", $"lie=fold window=0 windowlen={4 << 20}", Size.Part(0.4)),
        Liar("folds the top into a high window", $"lie=fold window={Size.Part(0.3)} windowlen={4 << 20}", Size.Part(0.4)),
        Liar("folds the top into a window as wide", $"lie=fold window=0 windowlen={Size.Part(0.3)}", Size.Part(0.6)) with { Sparse = [NoOverstatementFound, Defective, Overstated] },
        Liar("drops, reads 00", "lie=drop", Size.Part(0.6)) with { TrueBytes = Size.Part(0.6) },
        Liar("drops, reads FF", "lie=ff", Size.Part(0.9)) with { TrueBytes = Size.Part(0.9) },
        Liar("drops, reads old files", "lie=old", Size.Part(0.2)) with { TrueBytes = Size.Part(0.2) },
        Liar("its top cannot be read", "lie=top", Size.Part(0.7)) with { TrueBytes = Size.Part(0.7) },
        Liar("keeps the first content ever written", "lie=stale", Size.Part(0.5)) with { TrueBytes = Size.Part(0.5), HasEarlierPass = true, RoomBytes = null },
        Liar("drops behind a cache of 4 MiB", "lie=drop cache=1024", Size.Part(0.6), 4 << 20),
        Liar("wraps behind a cache of 4 MiB", "lie=wrap cache=1024", Size.Part(0.6), 4 << 20),
        Liar("drops behind a cache larger than what is written against it", $"lie=drop cache={2 * Size.EvictionBytes / 4096}", Size.Part(0.6), 2 * Size.EvictionBytes)
            with { Sparse = [NoOverstatementFound, Overstated] },
        .. CardSize.IsFull
            ? [Liar("4 GiB, 1 of them real, drops behind a cache of 2 GiB", $"lie=drop cache={CardSize.LargeCacheBytes / 4096}", 1L << 30, CardSize.LargeCacheBytes)
                with { Bytes = 4L << 30, Sparse = [NoOverstatementFound, Overstated] }]
            : Array.Empty<Kind>(),
        Liar("gives out storage on first write", "lie=grow", Size.Part(0.4)) with { Sparse = [NoOverstatementFound], Timed = [NoOverstatementFound, Overstated] },
        Liar("every odd MiB keeps nothing", "lie=odd", Size.Part(0.5)),
        Liar("1 % of the blocks keep nothing", "lie=scatter part=100", Size.Part(0.995)) with { Sparse = [Defective, Overstated], Full = [Defective, Overstated] },
        Liar("2 % of the blocks keep nothing", "lie=scatter part=200", Size.Part(0.99)) with { Sparse = [Overstated] },
        Liar("5 % of the blocks keep nothing", "lie=scatter part=500", Size.Part(0.97)) with { Sparse = [Overstated] },
        Liar("30 % of the blocks keep nothing", "lie=scatter part=3000", Size.Part(0.8)),
    ];

    /// <summary>As many blocks as a card may have bad without a hundredth of it being lost.</summary>
    private static long Many => CardSize.IsFull ? 1000 : 100;

    private static Kind Liar(string name, string traits, long trueBytes, long cacheBytes = 0) =>
        new(name, $"{traits} true={trueBytes}", [Overstated], [Overstated]) { RoomBytes = trueBytes + cacheBytes };
}
