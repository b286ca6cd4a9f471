using Cardassay.EmulatedBoard.Harness;

namespace Cardassay.EmulatedBoard.Faults;

/// <summary>One board with a card of each fault. Booted by the first test that needs it.</summary>
public sealed class FaultGuest : IAsyncLifetime
{
    /// <summary>What both lying cards claim, bytes.</summary>
    public const long ClaimedBytes = 4L << 30;

    /// <summary>What they keep, bytes: no power of 2, and no multiple of a usual unit.</summary>
    public const long TrueBytes = 1_234_567_168 + 512;

    private readonly List<NbdCard> lying = [];
    private Task<Guest>? booted;

    /// <summary>The running guest: mmcblk0 wraps, mmcblk1 drops, mmcblk2 and mmcblk3 are honest; the former may be pulled.</summary>
    public Task<Guest> ObtainAsync() => booted ??= StartAsync();

    /// <inheritdoc/>
    public Task InitializeAsync() => Task.CompletedTask;

    /// <inheritdoc/>
    public async Task DisposeAsync()
    {
        if (booted is { IsCompletedSuccessfully: true })
        {
            await (await booted).DisposeAsync();
        }

        foreach (NbdCard card in lying)
        {
            await card.DisposeAsync();
        }
    }

    private Task<Guest> StartAsync()
    {
        lying.AddRange(Enum.GetValues<PastTheEnd>().Select(lie => new NbdCard(ClaimedBytes, TrueBytes, lie)));
        return Guest.StartAsync(new GuestSetup { Slots = [.. lying, CardImage.Create(64 << 20), CardImage.Create(64 << 20)] });
    }
}
