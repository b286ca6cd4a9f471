using System.Diagnostics;
using Cardassay.Agent.CapacityProof;
using Cardassay.Fixtures.Cards;
using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Agent.Tests.CapacityProof;

/// <summary>Single cases; the population of ten thousand cards is in tests/simulation.</summary>
public sealed class SparseProofTests
{
    [Fact]
    public void Run_HonestCard_FindsNothingAndBoundsTheLoss()
    {
        ProofMeasured proof = Proving.Sparse(new SimulatedCard(new CardStore(BlankContent.Zeros, 1), 1L << 30));
        Assert.Equal(ProofFinding.NoneFound, proof.Finding);

        // 3 / n for n clean random probes (rule of three at 95 %: 1 - 0.05^(1/299) = 0.00997).
        Assert.Equal(3.0 / 299, proof.LostFractionBelow!.Value, 12);
        Assert.InRange(proof.LostFractionBelow.Value, 1 - Math.Pow(0.05, 1.0 / 299), 0.0101);
        Assert.Equal([new ProofRange(0, 1L << 30, BlockState.Kept)], proof.Ranges);
    }

    [Theory]
    [InlineData(512L << 20)]
    [InlineData((512L << 20) + 4096)]
    [InlineData((300L << 20) + 512)]
    [InlineData(7 * 4096)]
    [InlineData((1L << 30) - 4096)]
    public void Run_WrapAtAnyBoundary_GivesItToTheSector(long trueBytes)
    {
        ProofMeasured proof = Proving.Sparse(new SimulatedCard(new WrapLayer(new CardStore(BlankContent.Ones, 1), trueBytes), 1L << 30));
        Assert.Equal((ProofFinding.Wrap, trueBytes), (proof.Finding, proof.TrueBytes));
        Assert.Equal([BlockState.Kept, BlockState.Wrapped], proof.Ranges.Select(r => r.State));
        Assert.Null(proof.LostFractionBelow);
    }

    [Theory]
    [InlineData(512L << 20, (byte)0)]
    [InlineData((1L << 30) - 4096, (byte)0xFF)]
    [InlineData(4096 * 12345, null)]
    public void Run_DropAtAnyBoundary_GivesItToTheBlock(long trueBytes, byte? constant)
    {
        ProofMeasured proof = Proving.Sparse(new SimulatedCard(new DropLayer(new CardStore(BlankContent.OldFiles, 1), at => at >= trueBytes, constant), 1L << 30));
        Assert.Equal((ProofFinding.Drop, trueBytes), (proof.Finding, proof.TrueBytes));
        Assert.Equal(trueBytes, proof.Ranges[0].EndBytes);
    }

    [Theory]
    [InlineData(0.003, ProofWord.Defective)]
    [InlineData(0.02, ProofWord.Overstated)]
    public void Run_ScatteredLoss_ComesToTheWordOfAFullProof(double part, ProofWord word)
    {
        CardLayer Layer(long blocks) => new DropLayer(new CardStore(BlankContent.Zeros, 1), at => at / 4096 < blocks && Dice.Falls(5, (ulong)(at / 4096), part), 0);
        ProofMeasured sparse = Proving.Sparse(new SimulatedCard(Layer(1 << 18), 1L << 30));
        ProofMeasured full = Proving.Full(new SimulatedCard(Layer(16_384), 64L << 20));
        Assert.Equal(299 + 4096, sparse.RandomProbes); // the first look alone would leave the word open
        Assert.Equal((word, word), (ProofJudgement.Of(sparse).Word, ProofJudgement.Of(full).Word));
        Assert.InRange(part, ProofJudgement.Of(sparse).LostFractionAtLeast, ProofJudgement.Of(sparse).LostFractionAtMost);
        Assert.Equal(word == ProofWord.Defective, ProofFindings.Statement(sparse).Contains("says nothing of the claimed size", StringComparison.Ordinal));
    }

    [Fact]
    public void Run_CachedWrap_NeedsTheEviction()
    {
        // The same card is found with the eviction and slips through without it: the eviction does its work.
        static SimulatedCard Card() => new(new CacheLayer(new DropLayer(new CardStore(BlankContent.Zeros, 1), at => at >= 16 << 20, 0), 60_000, 16 << 20), 512L << 20);
        SparseOptions large = Proving.SmallSparse with { EvictionBytes = 256 << 20 };
        Assert.Equal(ProofFinding.Drop, Proving.Sparse(Card(), large).Finding);
        Assert.Equal(ProofFinding.NoneFound, Proving.Sparse(Card(), large with { EvictionBytes = 0 }).Finding);
    }

    [Fact]
    public void Run_CardPulled_IsInterruptedAndClaimsNothing()
    {
        var card = new SimulatedCard(new CardStore(BlankContent.Zeros, 1), 64 << 20) { GoneAt = 300 };
        ProofEnd end = SparseProof.Run(card, Proving.SmallSparse, Proving.Context(card), CancellationToken.None);
        Assert.Equal(RunOutcome.Interrupted, end.Outcome);
        Assert.Equal((false, ProofFinding.Unknown), (end.Proof.Complete, end.Proof.Finding));
        Assert.Null(end.Proof.LostFractionBelow);
    }

    [Fact]
    public void Run_TwoTerabytes_StaysSmall()
    {
        // A card that stores nothing it is not asked for: what grows is the proof's own.
        var card = new SimulatedCard(new Regenerating(), 2_000_000_000_000);
        long before = Resident();
        ProofMeasured proof = Proving.Sparse(card, new SparseOptions());
        long grown = Resident() - before;
        Assert.Equal(ProofFinding.NoneFound, proof.Finding);
        Assert.InRange(proof.LatticeBlocks, 44_000, 45_000);
        Assert.True(grown < 64 << 20, $"{grown >> 20} MiB more");
    }

    private static long Resident()
    {
        GC.Collect();
        using Process self = Process.GetCurrentProcess();
        return self.WorkingSet64;
    }

    /// <summary>Answers every block with what was written there last, which follows from its tag.</summary>
    private sealed unsafe class Regenerating() : CardLayer(null)
    {
        private ulong _nonce;

        public override int Write(long offset, ReadOnlySpan<byte> data)
        {
            _nonce = BitConverter.ToUInt64(data[16..]);
            return 0;
        }

        public override int Read(long offset, Span<byte> data)
        {
            fixed (byte* block = data)
            {
                Agent.BlockIo.SectorTag.Write(block, offset, _nonce);
            }

            return 0;
        }

        public override int Flush() => 0;
    }
}
