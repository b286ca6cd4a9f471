using Cardassay.Collector.Hosting;
using Cardassay.Collector.Observability;
using Cardassay.Collector.Tests.Boards;

namespace Cardassay.Collector.Tests.Observability;

public sealed class LineBudgetTests
{
    private readonly ManualTime _time = new(new DateTimeOffset(2031, 3, 12, 20, 0, 0, TimeSpan.Zero));
    private readonly List<(string Kind, long Lines)> _told = [];

    [Fact]
    public void Caller_WithoutRest_HidesNobodyElse()
    {
        using LineBudget budget = Budget(perCaller: 3, together: 10);
        Assert.Equal(3, Enumerable.Range(0, 100).Count(_ => budget.Take("a", "loud")));
        Assert.True(budget.Take("a", "calm"));
        Assert.True(budget.Take("b", "loud"));
    }

    [Fact]
    public void Callers_ManyTogether_AreBounded()
    {
        using LineBudget budget = Budget(perCaller: 3, together: 10);
        Assert.Equal(10, Enumerable.Range(0, 100).Count(i => budget.Take("a", $"caller {i}")));
        Assert.True(budget.Take("b", "caller 1"));
    }

    [Fact]
    public void HeldBack_IsToldAfterTheMinute_AndWhenItEnds()
    {
        LineBudget budget = Budget(perCaller: 1, together: 10);
        budget.Take("a", "loud");
        budget.Take("a", "loud");
        budget.Take("a", "loud");
        Assert.Empty(_told);
        _time.Now += LineBudget.Window;
        Assert.True(budget.Take("a", "loud"));
        Assert.Equal([("a", 2L)], _told);
        budget.Take("a", "loud");
        budget.Dispose();
        Assert.Equal([("a", 2L), ("a", 1L)], _told);
    }

    [Fact]
    public async Task HeldBack_WhenNobodyComesAnyMore_IsToldAllTheSame()
    {
        using var budget = new LineBudget(new HurriedTime(), 1, 10, (kind, lines) => { lock (_told) { _told.Add((kind, lines)); } });
        budget.Take("a", "loud");
        budget.Take("a", "loud");
        for (int i = 0; i < 600; i++)
        {
            lock (_told)
            {
                if (_told.Count > 0)
                {
                    break;
                }
            }

            await Task.Delay(50);
        }

        Assert.Equal([("a", 1L)], _told);
    }

    [Fact]
    public void Cost_CountsAgainstBoth_ButTheFirstIsAlwaysWritten()
    {
        using LineBudget budget = Budget(perCaller: 20, together: 25);
        Assert.Equal(2, Enumerable.Range(0, 5).Count(_ => budget.Take("a", "one", cost: 10)));
        Assert.False(budget.Take("a", "two", cost: 10));
        Assert.True(budget.Take("b", "one", cost: 1_000));
        Assert.False(budget.Take("b", "one"));
    }

    private LineBudget Budget(int perCaller, int together) => new(_time, perCaller, together, (kind, lines) => _told.Add((kind, lines)));

    /// <summary>A clock on which a minute takes a tenth of a second.</summary>
    private sealed class HurriedTime : TimeProvider
    {
        private const int Speed = 600;

        public override long GetTimestamp() => System.GetTimestamp() * Speed;

        public override long TimestampFrequency => System.TimestampFrequency;

        public override ITimer CreateTimer(TimerCallback callback, object? state, TimeSpan dueTime, TimeSpan period) =>
            System.CreateTimer(callback, state, dueTime / Speed, period / Speed);
    }
}
