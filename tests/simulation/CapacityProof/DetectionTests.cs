using System.Collections.Concurrent;
using System.Globalization;
using System.Text;
using Cardassay.Agent.CapacityProof;
using Cardassay.Agent.Conditions;
using Cardassay.Fixtures.Cards;
using Cardassay.Identity;
using Cardassay.Trials;
using Xunit.Abstractions;

namespace Cardassay.Simulation.Tests.CapacityProof;

/// <summary>
/// The sparse proof against a population of lying and of honest cards, small ones with an eviction scaled to them. Set CARDASSAY_FULL=1
/// for 100,000 of each.
/// </summary>
public sealed class DetectionTests(ITestOutputHelper output)
{
    private const int EvictionBlocks = 256;
    private const long LeastBlocks = 1100;
    private const long MostBlocks = 9_000;

    private static readonly int Cards = Environment.GetEnvironmentVariable("CARDASSAY_FULL") == "1" ? 100_000 : 3_000;

    private static readonly SparseOptions Options = new()
    {
        EvictionBytes = EvictionBlocks * 4096L,
        EdgeProbesAtMost = 64,
        UnitBytes = 512 << 10,
    };

    /// <summary>Two in three cards wrap or drop; the others share the rest.</summary>
    private static readonly Fault[] Mix =
    [
        Fault.Wrap, Fault.WrapBehindCache, Fault.Drop, Fault.DropBehindCache, Fault.Wrap, Fault.WrapBehindCache, Fault.Drop, Fault.DropBehindCache,
        Fault.Wrap, Fault.WrapBehindCache, Fault.Drop, Fault.DropBehindCache, Fault.Wrap, Fault.Drop, Fault.LastUnitReal, Fault.Fold,
        Fault.InStepWithLattice, Fault.AllocatedOnWrite, Fault.Scattered, Fault.Decay, Fault.Unreadable, Fault.UnreadableStretch, Fault.SwappedHalves,
    ];

    [Fact]
    public void SparseProof_LyingCards_AreFoundAsPromised()
    {
        var tallies = new ConcurrentDictionary<Fault, Tally>(Enum.GetValues<Fault>().Select(f => KeyValuePair.Create(f, new Tally())));
        Parallel.For(0, Cards, i =>
        {
            LyingCard lying = LyingCard.Make(Mix[i % Mix.Length], 5_000_000 + i, LeastBlocks, MostBlocks, EvictionBlocks);
            ProofMeasured proof = Prove(lying.Card, lying.Seed, null);
            Tally tally = tallies[lying.Fault];
            lock (tally)
            {
                tally.Add(lying, proof);
            }
        });

        output.WriteLine(Table(tallies));
        foreach ((Fault fault, Tally tally) in tallies)
        {
            string first = $"{fault}: {tally.FirstProblem}";
            if (fault is Fault.Wrap or Fault.WrapBehindCache or Fault.Drop or Fault.DropBehindCache)
            {
                Assert.True(tally.Found == tally.Cards, first);
                Assert.True(tally.SizeRight == tally.Cards, first);
                Assert.True(tally.KindRight == tally.Cards, first);
            }

            // Four standard deviations below what the random probes alone promise.
            double least = tally.Promised - (4 * Math.Sqrt(tally.Variance)) - 0.5;
            Assert.True(tally.Found >= least, $"{first} found {tally.Found} of {tally.Cards}, promised {tally.Promised:0.0}");
        }
    }

    [Fact]
    public void SparseProof_HonestCards_GiveNoFalseAlarm()
    {
        var alarms = new ConcurrentBag<string>();
        int withRepeats = 0, notJudged = 0;
        Parallel.For(0, Cards, i =>
        {
            int seed = 9_000_000 + i;
            (SimulatedCard card, LinkLayer? link) = HonestCard.Make(seed, 1, MostBlocks);
            ProofMeasured proof = Prove(card, seed, link);
            if (ProofJudgement.Of(proof).Word == ProofWord.NotJudged && link is { Errors: > 0 } && proof.Counts is { Lost: 0, NotJudged: > 0 })
            {
                Interlocked.Increment(ref notJudged); // the link erred with these blocks to the end: nothing is said of the card
            }
            else if (proof.Finding != ProofFinding.NoneFound || proof.TrueBytes is not null || proof.Ranges.Count != 1 || !proof.Complete)
            {
                alarms.Add($"seed {seed}: {proof.Finding}, {proof.Counts}");
            }

            if (link is { Errors: > 0 })
            {
                Assert.Equal(link.Errors, proof.LinkErrors);
                Interlocked.Increment(ref withRepeats);
            }
        });
        output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{Cards} honest cards, {withRepeats} of them over a link that erred: {alarms.Count} false alarms, {notJudged} not judged."));
        Assert.Empty(alarms);
        Assert.InRange(notJudged, 0, Cards / 1_000);
        Assert.InRange(withRepeats, Cards / 10, Cards);
    }

    [Theory]
    [InlineData(Fault.Wrap)]
    [InlineData(Fault.WrapBehindCache)]
    [InlineData(Fault.Drop)]
    [InlineData(Fault.DropBehindCache)]
    [InlineData(Fault.LastUnitReal)]
    [InlineData(Fault.Fold)]
    [InlineData(Fault.InStepWithLattice)]
    [InlineData(Fault.AllocatedOnWrite)]
    [InlineData(Fault.Scattered)]
    [InlineData(Fault.Decay)]
    [InlineData(Fault.Unreadable)]
    [InlineData(Fault.UnreadableStretch)]
    [InlineData(Fault.SwappedHalves)]
    public void FullProof_LyingCards_AreAllFound(Fault fault)
    {
        int cards = Cards / 150;
        for (int i = 0; i < cards; i++)
        {
            LyingCard lying = LyingCard.Make(fault, 7_000_000 + i, 1000, 3000, 400);
            ProofEnd end = FullProof.Run(lying.Card, new FullOptions { Kind = ProofKind.Full }, null, Context(lying.Card, lying.Seed, null), CancellationToken.None);
            bool hasLoss = end.Proof.Counts.Lost > 0;
            Assert.True(end.Proof.Complete && hasLoss && end.Proof.Finding > ProofFinding.NoneFound, $"{fault}, seed {lying.Seed}: {end.Proof.Finding}");
            if (fault is Fault.Wrap or Fault.WrapBehindCache or Fault.Drop or Fault.DropBehindCache or Fault.LastUnitReal)
            {
                if (fault == Fault.DropBehindCache && end.Proof.TrueBytes is null)
                {
                    // Its cache answers part of what the closing pass reads again: that it is overstated stays certain, where its end lies does not.
                    Assert.Equal(ProofWord.Overstated, ProofJudgement.Of(end.Proof).Word);
                    continue;
                }

                // Behind a cache the end is told to the block, which may lie across it; without one to the byte.
                long off = Math.Abs((end.Proof.TrueBytes ?? 0) - lying.TrueBytes!.Value);
                Assert.True(off < (fault == Fault.WrapBehindCache ? 4096 : 1), $"{fault}, seed {lying.Seed}: {end.Proof.TrueBytes} instead of {lying.TrueBytes}");
            }
        }
    }

    private static ProofMeasured Prove(SimulatedCard card, int seed, LinkLayer? link) =>
        SparseProof.Run(card, Options, Context(card, seed, link), CancellationToken.None).Proof;

    private static ProofContext Context(SimulatedCard card, int seed, LinkLayer? link) => new()
    {
        RunId = new RunId(Guid.Empty),
        Seed = (ulong)seed,
        ClaimedBytes = card.SizeBytes,
        Observer = new QuietObserver(),
        Conditions = link is null ? null : new LinkCounter(link),
        Pause = static (_, _) => { },
    };

    private static string Table(IReadOnlyDictionary<Fault, Tally> tallies)
    {
        var text = new StringBuilder("| fault | cards | found | promised by the random probes alone | true size to the block | kind as expected |\n|---|---|---|---|---|---|\n");
        foreach ((Fault fault, Tally tally) in tallies.Where(t => t.Value.Cards > 0).OrderBy(t => t.Key))
        {
            text.AppendLine(CultureInfo.InvariantCulture,
                $"| {fault} | {tally.Cards} | {100.0 * tally.Found / tally.Cards:0.00} % | {100.0 * tally.Promised / tally.Cards:0.00} % | {(tally.WithSize > 0 ? $"{100.0 * tally.SizeRight / tally.WithSize:0.00} %" : "none to tell")} | {100.0 * tally.KindRight / Math.Max(1, tally.Found):0.00} % |");
        }

        return text.ToString();
    }

    private sealed class LinkCounter(LinkLayer link) : IConditionsSource
    {
        public Conditions Sample() => new() { LinkErrors = link.Errors };
    }

    private sealed class Tally
    {
        public int Cards { get; private set; }

        public int Found { get; private set; }

        public int WithSize { get; private set; }

        public int SizeRight { get; private set; }

        public int KindRight { get; private set; }

        public double Promised { get; private set; }

        public double Variance { get; private set; }

        public string FirstProblem { get; private set; } = "no problem";

        public void Add(LyingCard lying, ProofMeasured proof)
        {
            Cards++;
            // By the probes of the first look: those of a second one are made only where something was found.
            double promise = 1 - Math.Pow(1 - lying.LostPart, Math.Min(Options.RandomProbes, lying.Card.SizeBytes / 4096));
            Promised += IsCertain(lying.Fault) ? 1 : lying.Fault == Fault.Fold ? 0 : promise;
            Variance += IsCertain(lying.Fault) || lying.Fault == Fault.Fold ? 0 : promise * (1 - promise);
            bool found = proof.Finding is not (ProofFinding.NoneFound or ProofFinding.Unknown);
            bool kind = Expected(lying.Fault).Contains(proof.Finding);
            bool size = proof.TrueBytes == lying.TrueBytes;
            Found += found ? 1 : 0;
            KindRight += found && kind ? 1 : 0;
            WithSize += lying.TrueBytes is null ? 0 : 1;
            SizeRight += lying.TrueBytes is not null && size ? 1 : 0;
            if (FirstProblem == "no problem" && (!found || !kind || (lying.TrueBytes is not null && !size)))
            {
                FirstProblem = $"seed {lying.Seed}: {proof.Finding}, {proof.TrueBytes} of {lying.Card.SizeBytes}, true {lying.TrueBytes}, step {proof.AliasStepBytes}, {proof.Counts}";
            }
        }

        private static bool IsCertain(Fault fault) => fault is Fault.Wrap or Fault.WrapBehindCache or Fault.Drop or Fault.DropBehindCache;

        private static ProofFinding[] Expected(Fault fault) => fault switch
        {
            Fault.Wrap or Fault.WrapBehindCache or Fault.Fold => [ProofFinding.Wrap],
            Fault.Drop or Fault.DropBehindCache or Fault.LastUnitReal => [ProofFinding.Drop],
            Fault.Scattered or Fault.InStepWithLattice or Fault.Decay => [ProofFinding.Scattered],
            Fault.Unreadable or Fault.UnreadableStretch => [ProofFinding.Unreadable],
            Fault.AllocatedOnWrite => [ProofFinding.Drop, ProofFinding.Scattered, ProofFinding.Mixed],
            _ => [ProofFinding.Mixed, ProofFinding.Wrap],
        };
    }
}
