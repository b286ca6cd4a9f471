namespace Cardassay.Service;

/// <summary>
/// Says to the service manager that the process is alive, but only when its work went on since it said so last. A process that
/// still has a timer but no progress is started anew by the manager.
/// </summary>
public static class Watchdog
{
    /// <summary>The manager is told this often within its own time, so that a late turn does no harm.</summary>
    private const int TurnsPerLimit = 3;

    /// <summary>Watches until cancelled; ends at once when the manager asks for nothing.</summary>
    /// <param name="manager">Who is told.</param>
    /// <param name="hasProgressed">Whether work went on since the call before; called once per turn.</param>
    /// <param name="time">Clock of the turns.</param>
    /// <param name="cancellationToken">Ends it.</param>
    public static async Task RunAsync(
        ServiceManager manager, Func<bool> hasProgressed, TimeProvider time, CancellationToken cancellationToken)
    {
        if (manager.Watchdog is not { } limit)
        {
            return;
        }

        using var turns = new PeriodicTimer(limit / TurnsPerLimit, time);
        try
        {
            while (await turns.WaitForNextTickAsync(cancellationToken))
            {
                if (hasProgressed())
                {
                    manager.Alive();
                }
            }
        }
        catch (OperationCanceledException)
        {
            // The process ends.
        }
    }

    /// <summary>Progress of heartbeats: whether every one of them has beaten since the call that last said so.</summary>
    public static Func<bool> Of(params Heartbeat[] heartbeats)
    {
        long[] seen = [.. heartbeats.Select(p => p.Beats)];
        return () =>
        {
            long[] now = [.. heartbeats.Select(p => p.Beats)];
            if (now.Zip(seen).Any(pair => pair.First == pair.Second))
            {
                return false;
            }

            seen = now;
            return true;
        };
    }
}
