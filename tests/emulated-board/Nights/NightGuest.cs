using Cardassay.EmulatedBoard.Harness;

namespace Cardassay.EmulatedBoard.Nights;

/// <summary>A board with two cards of one identity, and the collector it delivers to. Booted by the first test that needs them.</summary>
public sealed class NightGuest : IAsyncLifetime
{
    private Task<(Guest Guest, CollectorProcess Collector)>? started;

    /// <summary>The running guest with `mmcblk0` and `mmcblk1`, and the collector.</summary>
    public Task<(Guest Guest, CollectorProcess Collector)> ObtainAsync() => started ??= StartAsync();

    /// <inheritdoc/>
    public Task InitializeAsync() => Task.CompletedTask;

    /// <inheritdoc/>
    public async Task DisposeAsync()
    {
        if (started is { IsCompletedSuccessfully: true })
        {
            (Guest guest, CollectorProcess collector) = await started;
            await guest.DisposeAsync();
            await collector.DisposeAsync();
        }
    }

    private static async Task<(Guest Guest, CollectorProcess Collector)> StartAsync()
    {
        HostTools.Require();
        Guest guest = await Guest.StartAsync(new GuestSetup
        {
            Slots = [CardImage.Create(64 << 20), CardImage.Create(64 << 20)],
            Disk = await GuestDisk.CreateAsync(256 << 20),
            Network = true,
        });
        return (guest, await CollectorProcess.StartAsync());
    }
}
