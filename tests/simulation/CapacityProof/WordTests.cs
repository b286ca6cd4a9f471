using System.Collections.Concurrent;
using Cardassay.Agent.CapacityProof;
using Cardassay.Agent.Conditions;
using Cardassay.Fixtures.Cards;
using Cardassay.Identity;
using Cardassay.Trials;
using Xunit.Abstractions;

namespace Cardassay.Simulation.Tests.CapacityProof;

/// <summary>
/// The four words on populations of cards: no honest one is called overstated, whatever befalls it, and a liar passes only where the printed assumption
/// says so. With CARDASSAY_FULL=1 10,000 cards of each kind.
/// </summary>
public sealed class WordTests(ITestOutputHelper output)
{
    private const int EvictionBlocks = 256;

    private static readonly bool IsFull = Environment.GetEnvironmentVariable("CARDASSAY_FULL") == "1";

    private static readonly int Cards = IsFull ? 10_000 : 100;

    /// <summary>Many cards are small ones, of 1,000 blocks and more, so that the full sweep takes minutes.</summary>
    private static readonly (long LeastHonest, double TimesHonest, long MostLying) Blocks = IsFull ? (1000, 2, 2500) : (2000, 3, 9000);

    private static readonly SparseOptions Sparse = new() { EvictionBytes = EvictionBlocks * 4096L, EdgeProbesAtMost = 64, UnitBytes = 512 << 10 };

    private static readonly FullOptions Full = new() { Kind = ProofKind.Full, CheckpointBytes = 1 << 20, EvictionBytes = EvictionBlocks * 4096L };

    /// <summary>What a sparse pass says it takes for granted: loss by address alone, within what the probes can see, and no larger cache.</summary>
    private static readonly Fault[] Assumed = [Fault.Fold, Fault.AllocatedOnWrite, Fault.InStepWithLattice, Fault.Scattered, Fault.ScatteredWidely, Fault.Decay, Fault.Unreadable, Fault.UnreadableStretch, Fault.LastUnitReal];

    [Theory]
    [MemberData(nameof(HonestKinds))]
    public void Proof_HonestCards_NoneIsCalledOverstated(HonestKind kind)
    {
        var words = new ConcurrentDictionary<(bool Full, ProofWord Word), int>();
        var wrong = new ConcurrentBag<string>();
        Parallel.For(0, Cards, i =>
        {
            bool full = i % 2 == 0;
            int seed = 40_000_000 + (1_000_000 * (int)kind) + i;
            ProofMeasured proof = Prove(kind, seed, full);
            ProofWord word = ProofJudgement.Of(proof).Word;
            words.AddOrUpdate((full, word), 1, (_, n) => n + 1);
            if (!Allowed(kind).Contains(word) || (word == ProofWord.Defective) != ProofFindings.Of(proof).Any(f => f.Severity == FindingSeverity.Doubt))
            {
                wrong.Add($"seed {seed}, {(full ? "full" : "sparse")}: {word}, {proof.Finding}, {proof.Counts}");
            }
        });
        output.WriteLine($"{kind}: {string.Join(", ", words.OrderBy(w => w.Key).Select(w => $"{(w.Key.Full ? "full" : "sparse")} {w.Key.Word} {w.Value}"))}");
        Assert.Empty(wrong);
    }

    public static TheoryData<HonestKind> HonestKinds => [.. Enum.GetValues<HonestKind>()];

    public static TheoryData<Fault> Faults => [.. Enum.GetValues<Fault>()];

    [Theory]
    [MemberData(nameof(Faults))]
    public void SparseProof_LyingCards_PassOnlyWhereTheAssumptionSaysSo(Fault fault)
    {
        var words = new ConcurrentDictionary<ProofWord, int>();
        var wrong = new ConcurrentBag<string>();
        Parallel.For(0, Cards, i =>
        {
            LyingCard lying = LyingCard.Make(fault, 60_000_000 + (1_000_000 * (int)fault) + i, 1100, Blocks.MostLying, EvictionBlocks);
            ProofMeasured proof = SparseProof.Run(lying.Card, Sparse, Context(lying.Card, lying.Seed, new SimulatedTime(), null), CancellationToken.None).Proof;
            ProofJudgement judgement = ProofJudgement.Of(proof);
            words.AddOrUpdate(judgement.Word, 1, (_, n) => n + 1);
            bool assumed = Assumed.Contains(fault) && ProofFindings.Statement(proof).Contains("unless the card folds addresses together", StringComparison.Ordinal);
            if (judgement.Word == ProofWord.NotJudged || (judgement.Word == ProofWord.NoOverstatementFound && !assumed))
            {
                wrong.Add($"seed {lying.Seed}: {judgement.Word}, {proof.Finding}, {proof.Counts}, {proof.TrueBytes} true {lying.TrueBytes} of {lying.Card.SizeBytes}");
            }

            // Whatever the card does it cannot give back more than it has room for, a cache included; the block at a boundary may be there in part.
            if (lying.RoomBytes is { } room && judgement.KeepsAtLeastBytes > room)
            {
                wrong.Add($"seed {lying.Seed}: keeps at least {judgement.KeepsAtLeastBytes} bytes, but has room for {room}");
            }
        });
        output.WriteLine($"{fault}: {string.Join(", ", words.OrderBy(w => w.Key).Select(w => $"{w.Key} {w.Value}"))}");
        Assert.Empty(wrong);
    }

    private static ProofWord[] Allowed(HonestKind kind) => kind switch
    {
        HonestKind.Plain or HonestKind.Slow => [ProofWord.NoOverstatementFound],
        HonestKind.BadBlocks or HonestKind.FlippedBits => [ProofWord.NoOverstatementFound, ProofWord.Defective],
        HonestKind.Dead or HonestKind.ReadOnly => [ProofWord.NoOverstatementFound, ProofWord.NotJudged],
        _ => [ProofWord.NoOverstatementFound, ProofWord.NotJudged],
    };

    private static ProofMeasured Prove(HonestKind kind, int seed, bool full)
    {
        var random = new Random(seed);
        var time = new SimulatedTime();
        long blocks = (long)(Blocks.LeastHonest * Math.Pow(Blocks.TimesHonest, random.NextDouble()));
        CardLayer top = new CardStore((BlankContent)random.Next(3), (ulong)seed);
        long transfers = random.NextInt64(1, 2 * blocks);
        ulong dice = (ulong)random.NextInt64();
        LinkLayer? link = null;
        SparseOptions sparse = Sparse;
        switch (kind)
        {
            case HonestKind.Slow:
                top = new SlowLayer(top, time, TimeSpan.FromMilliseconds(50 * random.NextDouble()), TimeSpan.FromSeconds(0.9));
                sparse = Sparse with { Budget = TimeSpan.FromSeconds(300 * random.NextDouble()) };
                break;
            case HonestKind.ErringLink or HonestKind.ErringLinkUncounted:
                top = link = new LinkLayer(top, seed, Math.Pow(10, -2 - (2 * random.NextDouble())));
                break;
            case HonestKind.Away or HonestKind.AwayAndForgets:
                top = new OutageLayer(top, time, transfers, TimeSpan.FromSeconds(40 * random.NextDouble()), kind == HonestKind.AwayAndForgets);
                break;
            case HonestKind.Reset:
                top = new OutageLayer(top, time, transfers, TimeSpan.FromMilliseconds(300 * random.NextDouble()), forgetsUnflushed: true);
                break;
            case HonestKind.BadBlocks:
                long bad = random.NextInt64(blocks);
                top = new ErrorLayer(top, at => at / 4096 == bad || Dice.Falls(dice, (ulong)at / 4096, 0.001));
                break;
            case HonestKind.FlippedBits:
                top = new DecayLayer(top, dice, random.NextDouble(), random.Next(1, 40));
                break;
            case HonestKind.Refusing:
                top = new RefusingLayer(top, at => Dice.Falls(dice, (ulong)at / 4096, 0.01));
                break;
            case HonestKind.Dead:
                top = new OutageLayer(top, time, transfers, TimeSpan.FromDays(1), false);
                break;
            case HonestKind.ReadOnly:
                long writes = 0;
                top = new RefusingLayer(top, _ => ++writes > transfers);
                break;
        }

        var card = new SimulatedCard(top, blocks * 4096);
        ProofContext context = Context(card, seed, time, kind == HonestKind.ErringLink ? () => link!.Errors : null);
        return full
            ? FullProof.Run(card, Full, null, context, CancellationToken.None).Proof
            : SparseProof.Run(card, sparse, context, CancellationToken.None).Proof;
    }

    private static ProofContext Context(SimulatedCard card, int seed, SimulatedTime time, Func<long?>? errors) => new()
    {
        RunId = new RunId(Guid.Empty),
        Seed = (ulong)seed,
        ClaimedBytes = card.SizeBytes,
        Observer = new QuietObserver(),
        Conditions = errors is null ? null : new Counter(errors),
        Time = time,
        Pause = (span, _) => time.Advance(span),
    };

    private sealed class Counter(Func<long?> errors) : IConditionsSource
    {
        public Conditions Sample() => new() { LinkErrors = errors() };
    }
}
