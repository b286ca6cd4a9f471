using Cardassay.Service;

namespace Cardassay.SharedCore.Tests.Service;

public class WatchdogTests
{
    private static readonly TimeSpan Long = TimeSpan.FromSeconds(30);
    private static readonly TimeSpan Limit = TimeSpan.FromMilliseconds(60);

    [Fact]
    public async Task Watchdog_SaysAliveWhileTheWorkGoesOnAndIsSilentWhenItStands()
    {
        using var socket = new NotifySocket();
        using var stop = new CancellationTokenSource();
        var heartbeat = new Heartbeat();
        int goesOn = 1;
        Task watching = Watchdog.RunAsync(socket.Manager(Limit), Watchdog.Of(heartbeat), TimeProvider.System, stop.Token);
        Task working = Task.Run(async () =>
        {
            while (!stop.IsCancellationRequested)
            {
                if (Volatile.Read(ref goesOn) == 1)
                {
                    heartbeat.Beat();
                }

                await Task.Delay(5, CancellationToken.None);
            }
        });

        Assert.Equal("WATCHDOG=1", socket.Next(Long));
        Assert.Equal("WATCHDOG=1", socket.Next(Long));

        Volatile.Write(ref goesOn, 0);
        await Task.Delay(Limit * 5); // the last beat's message, whatever the load
        socket.Drain();
        Assert.Null(socket.Next(Limit * 10)); // the timer still runs; nothing was done

        Volatile.Write(ref goesOn, 1);
        Assert.Equal("WATCHDOG=1", socket.Next(Long));

        await stop.CancelAsync();
        await watching;
        await working;
    }

    [Fact]
    public async Task Watchdog_NobodyWatches_EndsAtOnce()
    {
        using var socket = new NotifySocket();
        await Watchdog.RunAsync(socket.Manager(), () => true, TimeProvider.System, CancellationToken.None).WaitAsync(Long);
        Assert.Null(socket.Next(TimeSpan.FromMilliseconds(50)));
    }

    [Fact]
    public void Of_AsksThatEveryPulseHasBeaten()
    {
        Heartbeat work = new(), delivery = new();
        Func<bool> progress = Watchdog.Of(work, delivery);
        Assert.False(progress());
        work.Beat();
        Assert.False(progress()); // the delivery stands
        delivery.Beat();
        Assert.True(progress()); // both since the last time it was said
        work.Beat();
        Assert.False(progress());
    }
}
