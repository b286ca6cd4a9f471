using Cardassay.Collector.Intake;
using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Tests.Intake;

public sealed class EpochLedgerTests
{
    private const string Epoch = "e";

    [Fact]
    public void Receive_InOrder_MovesTheMark()
    {
        var ledger = new EpochLedger([]);
        ledger.Receive(Epoch, "b", 1);
        ledger.Receive(Epoch, "b", 2);
        Assert.Equal(2, ledger.Through(Epoch));
        Assert.Equal("b", ledger.BoardOf(Epoch));
    }

    [Fact]
    public void Receive_BeyondAGap_LeavesTheMark()
    {
        var ledger = new EpochLedger([]);
        ledger.Receive(Epoch, "b", 2);
        Assert.Equal(0, ledger.Through(Epoch));
    }

    [Fact]
    public void Lose_RangeAtTheMark_LetsTheMarkGoOn()
    {
        var ledger = new EpochLedger([new StoredMark(Epoch, "b", 4)]);
        ledger.Lose(Epoch, "b", 5, 9);
        Assert.Equal(9, ledger.Through(Epoch));
        ledger.Receive(Epoch, "b", 10);
        Assert.Equal(10, ledger.Through(Epoch));
    }

    [Fact]
    public void Lose_RangeAheadOfTheMark_CountsWhenTheMarkGetsThere()
    {
        var ledger = new EpochLedger([]);
        ledger.Lose(Epoch, "b", 3, 5);
        ledger.Lose(Epoch, "b", 6, 6);
        ledger.Receive(Epoch, "b", 1);
        Assert.Equal(1, ledger.Through(Epoch));
        ledger.Receive(Epoch, "b", 2);
        Assert.Equal(6, ledger.Through(Epoch));
    }

    [Theory]
    [InlineData(0, 5)]
    [InlineData(5, 4)]
    [InlineData(-3, 9)]
    public void Lose_NonsenseRange_ChangesNothing(long first, long last)
    {
        var ledger = new EpochLedger([]);
        ledger.Lose(Epoch, "b", first, last);
        Assert.Equal(0, ledger.Through(Epoch));
    }
}
