using Cardassay.Agent.BlockIo;
using Cardassay.Agent.Trials;
using Cardassay.Judging;
using Cardassay.Trials;

namespace Cardassay.Agent.Tests.Trials;

/// <summary>Two cards of a model: a bus for both is found, two of them are not called one.</summary>
[Collection("machine")]
public sealed class SlotsTestTests : IDisposable
{
    private const int Bytes = 4 << 20;
    private readonly MemoryTarget _first = new(Bytes) { Delay = TimeSpan.Zero };
    private readonly MemoryTarget _second = new(Bytes) { Delay = TimeSpan.Zero };

    public void Dispose()
    {
        _first.Dispose();
        _second.Dispose();
    }

    /// <summary>In the time of the model, so that what else this machine does changes nothing.</summary>
    [Theory]
    [InlineData(1.0, SlotsWord.Disturb, 0.5)]
    [InlineData(0.06, SlotsWord.Disturb, 0.94)]
    [InlineData(0.0, SlotsWord.DoNotDisturb, 1)]
    public void Run_PartOfEveryTransferIsOnABusForBoth_IsFoundOut(double shared, SlotsWord expected, double ratio)
    {
        var rig = new ModelRig(shared);
        _first.Fault = (_, _) => rig.Transfer(0);
        _second.Fault = (_, _) => rig.Transfer(1);
        (_first.CanWrite, _second.CanWrite) = (false, false);
        SlotsTest test = new(("mmcblk0", _first), ("mmcblk1", _second), 7, rig.Begin) { Seconds = 0.3 };
        IReadOnlyList<SlotComparison> all = test.Run(12, _ => { }, CancellationToken.None);

        Assert.Equal(8, all.Count);
        Assert.All(all, c => Assert.Equal(12, c.Rounds));
        Assert.All(all, c => Assert.InRange(Math.Exp(c.MeanLogRatio), ratio - 0.02, ratio + 0.02));
        SlotsJudgement judged = SlotsTogether.Judge(all, writes: false);
        Assert.True(expected == judged.Word, $"{judged}");
    }

    [Fact]
    public void Run_BothMayBeWritten_TriesWritesOfBothAndCountsThem()
    {
        var told = new List<int>();
        SlotsTest test = Test(0.01);
        IReadOnlyList<SlotComparison> all = test.Run(2, told.Add, CancellationToken.None);
        Assert.Equal([1, 2], told);
        Assert.Equal(32, all.Count);
        Assert.Equal(32, all.Select(c => (c.Disk, c.Kind, c.BesideKind)).Distinct().Count());
        Assert.All(all, c => Assert.True(c.Together.Seconds > 0 && c.Alone.Seconds > 0 && double.IsFinite(c.MeanLogRatio)));
        Assert.All(test.Written, bytes => Assert.True(bytes >= Bytes, $"{bytes}")); // the range once before, then the trials
    }

    [Fact]
    public void Run_OneCardMayNotBeWritten_NothingIsWrittenToEither()
    {
        _second.CanWrite = false;
        _first.Records = true;
        _ = Test(0.01).Run(1, _ => { }, CancellationToken.None);
        Assert.DoesNotContain(_first.Log, l => l.Operation != 'r');
    }

    [Fact]
    public void Run_CardFailsOrGivesBackOtherThings_NothingOfTheTestCounts()
    {
        (_first.CanWrite, _second.CanWrite) = (false, false);
        _second.Fault = (_, _) => 5; // EIO
        TargetException failed = Assert.Throws<TargetException>(() => Test(0.01).Run(1, _ => { }, CancellationToken.None));
        Assert.Contains("mmcblk1 failed at byte", failed.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Run_Cancelled_Throws()
    {
        using var stop = new CancellationTokenSource();
        Assert.Throws<OperationCanceledException>(() => Test(0.01).Run(5, _ => stop.Cancel(), stop.Token));
    }

    private SlotsTest Test(double seconds) => new(("mmcblk0", _first), ("mmcblk1", _second), 7) { Seconds = seconds };

    /// <summary>
    /// Two cards in a time of their own: a transfer takes a millisecond, of which a part is on a bus that both use. While both are at work neither runs ahead of
    /// the other, so that each finds the bus as it would be.
    /// </summary>
    /// <param name="shared">How much longer a transfer takes for one of the other card, as a part of it.</param>
    private sealed class ModelRig(double shared)
    {
        private readonly object _gate = new();
        private readonly Random[] _random = [new(1), new(2)];
        private long[] _now = [0, 0];
        private bool _together;

        public TrialClock[] Begin(bool together)
        {
            lock (_gate)
            {
                (_now, _together) = ([1_000_000_000, 1_000_000_000], together);
            }

            return [new CardClock(this, 0), new CardClock(this, 1)];
        }

        public int Transfer(int card)
        {
            lock (_gate)
            {
                while (_together && _now[1 - card] < _now[card])
                {
                    Monitor.Wait(_gate); // the other's trial ends at the same moment of the model, never before
                }

                double own = 1e6 * (0.95 + (0.1 * _random[card].NextDouble()));
                _now[card] += (long)(own * (_together ? 1 + shared : 1));
                Monitor.PulseAll(_gate);
            }

            return 0;
        }

        private long NowOf(int card)
        {
            lock (_gate)
            {
                return _now[card];
            }
        }

        private sealed class CardClock(ModelRig rig, int card) : TrialClock
        {
            public override long NowNs => rig.NowOf(card);

            public override long WaitingNs => 0;
        }
    }
}
