namespace Cardassay.Collector.Boards;

/// <summary>Looks every few seconds whether the time of an entry is over.</summary>
internal sealed class NightClerk(DutyDesk duties, TimeProvider time) : BackgroundService
{
    private static readonly TimeSpan Every = TimeSpan.FromSeconds(5);

    /// <inheritdoc/>
    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        try
        {
            using var timer = new PeriodicTimer(Every, time);
            while (await timer.WaitForNextTickAsync(stoppingToken))
            {
                await duties.CloseOverdueAsync(stoppingToken);
            }
        }
        catch (OperationCanceledException)
        {
            // The collector stops.
        }
    }
}
