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
        Assert.Equal("b", ledger.Mark(Epoch).Board);
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

    [Fact]
    public void Receive_BeyondAHole_CountsWhenTheMarkGetsThere_AlsoAfterARestart()
    {
        var ledger = new EpochLedger([]);
        ledger.Receive(Epoch, "b", 1);
        ledger.Receive(Epoch, "b", 6);
        ledger.Lose(Epoch, "b", 3, 4);
        Assert.Equal(1, ledger.Through(Epoch));
        Assert.Equal("3-4 6-6", ledger.Mark(Epoch).Ahead);
        var again = new EpochLedger([ledger.Mark(Epoch)]);
        again.Receive(Epoch, "b", 2);
        Assert.Equal(4, again.Through(Epoch));
        again.Receive(Epoch, "b", 5);
        Assert.Equal(6, again.Through(Epoch));
        Assert.Equal("", again.Mark(Epoch).Ahead);
    }

    [Fact]
    public void Ledger_UnderAnyOrderOfReceiptsAndLosses_StandsWhereAPlainSetStands()
    {
        for (int seed = 1; seed <= 2_000; seed++)
        {
            var random = new Random(seed);
            var ledger = new EpochLedger([]);
            var known = new HashSet<long>();
            for (int i = 0; i < 40; i++)
            {
                long first = random.Next(1, 30);
                long last = first + random.Next(0, 6);
                if (random.Next(2) == 0)
                {
                    ledger.Lose(Epoch, "b", first, last);
                    known.UnionWith(Enumerable.Range((int)first, (int)(last - first + 1)).Select(n => (long)n));
                }
                else
                {
                    ledger.Receive(Epoch, "b", first);
                    known.Add(first);
                }

                long expected = 0;
                while (known.Contains(expected + 1))
                {
                    expected++;
                }

                Assert.True(expected == ledger.Through(Epoch), $"seed {seed}, step {i}: {ledger.Through(Epoch)} instead of {expected}");
                ledger = random.Next(5) == 0 ? new EpochLedger([ledger.Mark(Epoch)]) : ledger;
            }
        }
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
