using Cardassay.Collector.Live;
using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Tests.Live;

public class LiveDeskTests
{
    private readonly StandingClock _clock = new();
    private IntakePosition _at = new("e", 1);
    private int _readings;
    private TimeSpan _takes;

    [Fact]
    public async Task Look_WhileNothingCameIn_ReadsOnce()
    {
        LiveDesk desk = Desk();
        for (int i = 0; i < 10; i++)
        {
            Assert.False((await desk.LookAsync(default)).Reading);
            _clock.Move(TimeSpan.FromMinutes(1));
        }

        Assert.Equal(1, _readings);
    }

    [Fact]
    public async Task Look_WhileRecordsPourIn_ReadsForAFifthOfTheTime()
    {
        _takes = TimeSpan.FromSeconds(2);
        LiveDesk desk = Desk();
        await desk.LookAsync(default);
        DateTimeOffset began = _clock.GetUtcNow();
        for (int i = 0; i < 60; i++)
        {
            _at = new IntakePosition("e", 2 + i);
            _clock.Move(TimeSpan.FromSeconds(1));
            await desk.LookAsync(default);
            await desk.SettledAsync();
        }

        double share = (_readings - 1) * _takes / (_clock.GetUtcNow() - began);
        Assert.InRange(share, 0.15, 0.2);
    }

    [Fact]
    public async Task Look_QuickReading_ShowsWhatCameInWithinASecond()
    {
        LiveDesk desk = Desk();
        await desk.LookAsync(default);
        _at = new IntakePosition("e", 2);
        _clock.Move(TimeSpan.FromMilliseconds(500));
        await desk.LookAsync(default);
        await desk.SettledAsync();
        Assert.Equal(2, _readings);
    }

    [Fact]
    public async Task Watch_MorePagesThanAllowed_RefusesUntilOneCloses()
    {
        LiveDesk desk = Desk();
        using var closing = new CancellationTokenSource();
        IAsyncEnumerator<string>[] open = [.. Enumerable.Range(0, LiveDesk.MostWatchers).Select(_ => desk.Watch(default, closing.Token)!.GetAsyncEnumerator(closing.Token))];
        Assert.Null(desk.Watch(default, default));
        foreach (IAsyncEnumerator<string> page in open)
        {
            Assert.True(await page.MoveNextAsync());
        }

        await closing.CancelAsync();
        Assert.False(await open[0].MoveNextAsync());
        Assert.NotNull(desk.Watch(default, default));
    }

    [Fact]
    public async Task Look_ReadingFails_SaysSoAndTriesAgain()
    {
        bool broken = true;
        List<Exception> told = [];
        var desk = new LiveDesk(() => _at, () => broken ? throw new InvalidOperationException("broken") : new LiveState { Integrity = "fine" }, () => [], told.Add, _clock);
        Assert.True((await desk.LookAsync(default)).Reading);
        Assert.Equal("broken", Assert.Single(told).Message);
        broken = false;
        _clock.Move(TimeSpan.FromSeconds(6));
        Assert.Equal("fine", (await desk.LookAsync(default)).Integrity);
    }

    private LiveDesk Desk() => new(
        () => _at,
        () =>
        {
            _readings++;
            _clock.Move(_takes);
            return new LiveState();
        },
        () => [],
        e => Assert.Fail(e.ToString()),
        _clock);
}
