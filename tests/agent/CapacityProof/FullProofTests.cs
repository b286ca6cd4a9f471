using Cardassay.Agent.CapacityProof;
using Cardassay.Agent.Conditions;
using Cardassay.Fixtures.Cards;
using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Agent.Tests.CapacityProof;

public sealed class FullProofTests
{
    private const long Size = 9 << 20;

    [Fact]
    public void Run_HonestCard_KeepsEveryBlock()
    {
        ProofMeasured proof = Proving.Full(Card(Store()));
        Assert.Equal(ProofFinding.NoneFound, proof.Finding);
        Assert.Equal(Size / 4096, proof.Counts.Kept);
        Assert.Equal((Size / 4096, Size / 4096), (proof.BlocksWritten, proof.BlocksRead));
        Assert.Equal([new ProofRange(0, Size, BlockState.Kept)], proof.Ranges);
        Assert.Null(proof.TrueBytes);
    }

    [Fact]
    public void Run_CardWithOneWeakBlock_NamesPlaceAndBits()
    {
        ProofMeasured proof = Proving.Full(Card(new OneBit(Store(), 1234 * 4096, 77)));
        Assert.Equal(new LostBlock(1234 * 4096, BlockState.Decayed, null, 0, 1, 77), Assert.Single(proof.LostBlocks));
        Assert.Equal(Size - 4096, proof.TrueBytes);
        Assert.Equal(3, proof.Ranges.Count);
    }

    [Fact]
    public void Run_WrappingCard_SaysWhereToAndDrawsTheTrueSize()
    {
        ProofMeasured proof = Proving.Full(Card(new WrapLayer(Store(), 5 << 20)));
        Assert.Equal((ProofFinding.Wrap, 5L << 20, 5L << 20), (proof.Finding, proof.TrueBytes, proof.AliasStepBytes));
        Assert.Equal([new ProofRange(0, 5 << 20, BlockState.Kept), new ProofRange(5 << 20, Size, BlockState.Wrapped)], proof.Ranges);
        Assert.Equal(5 << 20, proof.LostBlocks[0].FoundOffsetBytes);
    }

    [Fact]
    public void Run_LostTopBehindACache_IsFoundAfterTheEviction()
    {
        const long True = 6 << 20;
        var layer = new CacheLayer(new DropLayer(Store(), at => at >= True, 0), (3 << 20) / 4096);
        ProofMeasured proof = Proving.Full(Card(layer));
        Assert.Equal((ProofFinding.Drop, True), (proof.Finding, proof.TrueBytes));
    }

    [Fact]
    public void Run_LinkThatErrs_IsNoLossAndIsCounted()
    {
        var link = new LinkLayer(Store(), 5, 0.001);
        ProofMeasured proof = Proving.Full(Card(link), conditions: new Counter(() => link.Errors));
        Assert.Equal(ProofFinding.NoneFound, proof.Finding);
        Assert.True(link.Errors > 0 && proof.LinkErrors == link.Errors && proof.Repeats > 0);
    }

    [Fact]
    public void Run_BlockLostWhileTheLinkErrs_IsADoubtOnly()
    {
        long errors = 0;
        var layer = new ErrorLayer(Store(), at => at == 8192 && ++errors > 0);
        ProofMeasured proof = Proving.Full(Card(layer), conditions: new Counter(() => errors));
        Assert.Equal((ProofFinding.Unreadable, 1L), (proof.Finding, proof.LinkSuspectBlocks));
        Assert.Equal(FindingSeverity.Doubt, ProofFindings.Of(proof)[0].Severity);

        ProofMeasured silent = Proving.Full(Card(new ErrorLayer(Store(), at => at == 8192)), conditions: new Counter(() => 0));
        Assert.Equal(FindingSeverity.Contradiction, ProofFindings.Of(silent)[0].Severity);
    }

    [Theory]
    [InlineData(1)]
    [InlineData(7)]
    [InlineData(11)]
    [InlineData(16)]
    public void Run_ResumedFromAnyCheckpoint_ComesToTheSameEnd(int transfers)
    {
        var store = new WrapLayer(Store(), 5 << 20);
        SimulatedCard card = Card(store);
        card.GoneAt = transfers;
        var observer = new QuietObserver();
        ProofEnd cut = FullProof.Run(card, Proving.SmallFull, null, Proving.Context(card, observer: observer), CancellationToken.None);
        Assert.Equal(RunOutcome.Interrupted, cut.Outcome);
        Assert.False(cut.Proof.Complete);
        Assert.Equal(ProofFinding.Unknown, cut.Proof.Finding);

        ProofMeasured resumed = Proving.Full(Card(store), observer.Checkpoints.LastOrDefault());
        ProofMeasured whole = Proving.Full(Card(new WrapLayer(Store(), 5 << 20)));
        Assert.Equal((whole.Finding, whole.TrueBytes, whole.Counts, whole.BlocksRead), (resumed.Finding, resumed.TrueBytes, resumed.Counts, resumed.BlocksRead));
        Assert.Equal(whole.Ranges, resumed.Ranges);
        Assert.Equal(observer.Checkpoints.Count > 0, resumed.ResumedAtBytes is not null);
    }

    [Fact]
    public void IsStillThere_OtherCard_IsFalse()
    {
        SimulatedCard card = Card(Store());
        ProofMeasured proof = Proving.Full(card);
        Assert.True(EarlierPass.IsStillThere(card, proof));
        Assert.False(EarlierPass.IsStillThere(Card(Store()), proof));
    }

    [Fact]
    public void Run_Cancelled_StopsAndIsNotComplete()
    {
        using var cancel = new CancellationTokenSource();
        cancel.Cancel();
        SimulatedCard card = Card(Store());
        ProofEnd end = FullProof.Run(card, Proving.SmallFull, null, Proving.Context(card), cancel.Token);
        Assert.Equal(RunOutcome.Cancelled, end.Outcome);
        Assert.False(end.Proof.Complete);
    }

    [Fact]
    public void Draw_ProofHalfRead_ShowsLostWrittenAndNothingYet()
    {
        string map = LiveMap.Draw(32 * 4096, 24 * 4096, 16 * 4096, [new ProofRange(0, 4096, BlockState.Constant), new ProofRange(4096, 16 * 4096, BlockState.Kept)]);
        Assert.Equal("!###############wwwwwwww--------", map);
    }

    private static CardStore Store() => new(BlankContent.OldFiles, 3);

    private static SimulatedCard Card(CardLayer layer) => new(layer, Size);

    private sealed class Counter(Func<long> errors) : IConditionsSource
    {
        public Cardassay.Trials.Conditions Sample() => new() { LinkErrors = errors() };
    }

    private sealed class OneBit(CardLayer below, long place, int bit) : CardLayer(below)
    {
        public override int Read(long offset, Span<byte> data)
        {
            int error = Below.Read(offset, data);
            data[bit / 8] ^= (byte)(offset == place ? 1 << (bit % 8) : 0);
            return error;
        }
    }
}
