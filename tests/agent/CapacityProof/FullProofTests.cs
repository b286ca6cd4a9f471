using Cardassay.Agent.CapacityProof;
using Cardassay.Agent.Conditions;
using Cardassay.Agent.Sysfs;
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
        Assert.Equal(3, proof.Ranges.Count);
        Assert.Equal((ProofWord.Defective, null), (ProofJudgement.Of(proof).Word, ProofJudgement.Of(proof).TrueBytes));
        Assert.Equal(FindingSeverity.Doubt, ProofFindings.Of(proof)[0].Severity);
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
    public void Run_LostTopBehindACacheThatAnswersTheClosingPass_StatesNoSize()
    {
        // 6 of 9 MiB are kept; what is written against the cache of 2 MiB ends at 7 MiB and is in the cache when it is read for the second time.
        var layer = new CacheLayer(new DropLayer(Store(), at => at >= 6 << 20, 0), (2 << 20) / 4096);
        ProofMeasured proof = Proving.Full(Card(layer));
        Assert.Equal((ProofWord.Overstated, null), (ProofJudgement.Of(proof).Word, proof.TrueBytes));
        Assert.Equal(6 << 20, proof.KeepsAtLeastBytes);
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
    public void Run_BlockLostWhileTheLinkErrs_IsNotJudged()
    {
        long errors = 0;
        var layer = new ErrorLayer(Store(), at => at == 8192 && ++errors > 0);
        ProofMeasured proof = Proving.Full(Card(layer), conditions: new Counter(() => errors));
        Assert.Equal((ProofFinding.Unknown, 1L, 0L), (proof.Finding, proof.LinkSuspectBlocks, proof.Counts.Lost));
        Assert.Equal(ProofWord.NotJudged, ProofJudgement.Of(proof).Word);
        Assert.All(ProofFindings.Of(proof), f => Assert.Equal(FindingSeverity.Note, f.Severity));

        ProofMeasured silent = Proving.Full(Card(new ErrorLayer(Store(), at => at == 8192)), conditions: new Counter(() => 0));
        Assert.Equal((ProofWord.Defective, FindingSeverity.Doubt), (ProofJudgement.Of(silent).Word, ProofFindings.Of(silent)[0].Severity));
    }

    [Fact]
    public void Run_LinkThatErrsAtEveryLostBlock_IsNeverAContradiction()
    {
        // Far more blocks than any number up to which one could ask the host about each.
        long errors = 0;
        var layer = new ErrorLayer(Store(), at => at / 4096 % 3 == 0 && ++errors > 0);
        ProofMeasured proof = Proving.Full(Card(layer), conditions: new Counter(() => errors));
        Assert.Equal((Size / 4096 / 3, 0L), (proof.LinkSuspectBlocks, proof.Counts.Lost));
        Assert.Equal(ProofWord.NotJudged, ProofJudgement.Of(proof).Word);
    }

    [Fact]
    public void Run_WritesRefusedAtFirst_AreWrittenAgainInTheClosingPass()
    {
        int refusals = 0;
        ProofMeasured proof = Proving.Full(Card(new RefusingLayer(Store(), at => at / 4096 is >= 100 and < 400 && ++refusals <= 300)));
        Assert.Equal((ProofFinding.NoneFound, true), (proof.Finding, proof.WriteErrors > 0));

        // What was written again was not outstanding with the rest: it does not count for what the card keeps at the least.
        Assert.True(proof.KeepsAtLeastBytes < Size && proof.KeepsAtLeastBytes >= Size - (300 * 4096), $"{proof.KeepsAtLeastBytes}");
    }

    [Theory]
    [InlineData(0)]
    [InlineData(1000)]
    public void Run_CardThatTakesNoWrites_IsNotJudged(int after)
    {
        long writes = 0;
        SimulatedCard card = Card(new RefusingLayer(Store(), _ => ++writes > after));
        ProofEnd end = FullProof.Run(card, Proving.SmallFull, null, Proving.Context(card), CancellationToken.None);
        Assert.Equal(RunOutcome.Interrupted, end.Outcome);
        Assert.Equal(ProofWord.NotJudged, ProofJudgement.Of(end.Proof).Word);
        Assert.DoesNotContain(ProofFindings.Of(end.Proof), f => f.Severity > FindingSeverity.Note);
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
    public void BlocksAfterLastFlush_CardCutOffWhileWriting_CountsWhatTheProofWroteItself()
    {
        var store = Store();
        SimulatedCard card = Card(store);
        card.GoneAt = 7;
        var observer = new QuietObserver();
        FullProof.Run(card, Proving.SmallFull, null, Proving.Context(card, observer: observer), CancellationToken.None);
        ProofMeasured earlier = observer.Checkpoints[^1];
        Assert.Equal(6L << 20, earlier.WrittenThroughBytes);
        Assert.Equal(256, EarlierPass.BlocksAfterLastFlush(Card(store), earlier, 4 << 20));
        store.Write((6 << 20) + 4096, new byte[4096]);
        Assert.Equal(1, EarlierPass.BlocksAfterLastFlush(Card(store), earlier, 4 << 20));
    }

    [Fact]
    public void IsStillThere_OtherCard_IsFalse()
    {
        SimulatedCard card = Card(Store());
        ProofMeasured proof = Proving.Full(card);
        Assert.True(EarlierPass.IsStillThere(card, proof));
        Assert.False(EarlierPass.IsStillThere(Card(Store()), proof));

        // One in eight blocks overwritten: the sample of 64 misses that with (7/8)^64 = 0.02 %, and this one does not.
        var used = Store();
        ProofMeasured before = Proving.Full(Card(used));
        for (int at = 0; at < Size; at += 8 * 4096)
        {
            used.Write(at, new byte[4096]);
        }

        Assert.False(EarlierPass.IsStillThere(Card(used), before));
    }

    [Theory]
    [InlineData(4, ProofWord.NoOverstatementFound)]
    [InlineData(1000, ProofWord.Defective)]
    public void Run_BitThatTurnsInSeveralReadingsOfTheClosingPass_NeedsFiveInARow(int wrongReadings, ProofWord word)
    {
        // The host counts nothing. Two readings before the closing pass, which asks for the block twice more as every other one.
        ProofMeasured proof = Proving.Full(Card(new OneBit(Store(), 1234 * 4096, 77) { Readings = 2 + wrongReadings }));
        Assert.Equal(word, ProofJudgement.Of(proof).Word);
    }

    [Theory]
    [InlineData(false, RunOutcome.Completed)]
    [InlineData(true, RunOutcome.Interrupted)]
    public void Run_PutInAgainBetweenWritingAndReading_StillWatchesTheCard(bool isChanged, RunOutcome outcome)
    {
        CardStore store = Store();
        var watch = new Watch();
        FullOptions options = Proving.SmallFull with
        {
            Between = (_, _) =>
            {
                watch.Changed = isChanged ? "mmcblk1 is another card now." : null;
                return Card(store);
            },
        };
        SimulatedCard card = Card(store);
        ProofEnd end = FullProof.Run(card, options, null, Proving.Context(card) with { CardWatch = watch }, CancellationToken.None);
        Assert.Equal((outcome, isChanged ? ProofWord.NotJudged : ProofWord.NoOverstatementFound, true), (end.Outcome, ProofJudgement.Of(end.Proof).Word, end.Proof.PutInAgain));
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

    private sealed class Watch : ICardWatch
    {
        public string? Changed { get; set; }

        public string? WhatChanged() => Changed;
    }

    private sealed class Counter(Func<long> errors) : IConditionsSource
    {
        public Cardassay.Trials.Conditions Sample() => new() { LinkErrors = errors() };
    }

    private sealed class OneBit(CardLayer below, long place, int bit) : CardLayer(below)
    {
        /// <summary>Readings of the place that bring the wrong bit; then it is right.</summary>
        public int Readings { get; set; } = int.MaxValue;

        public override int Read(long offset, Span<byte> data)
        {
            int error = Below.Read(offset, data);
            data[bit / 8] ^= (byte)(offset == place && Readings-- > 0 ? 1 << (bit % 8) : 0);
            return error;
        }
    }
}
