using Cardassay.EmulatedBoard.Harness;

namespace Cardassay.EmulatedBoard.Faults;

/// <summary>One board with a card of each fault. Booted by the first test that needs it.</summary>
public sealed class FaultGuest : IAsyncLifetime
{
    /// <summary>What both large lying cards claim, bytes.</summary>
    public const long ClaimedBytes = 4L << 30;

    /// <summary>What they keep, bytes: no power of 2, and no multiple of a usual unit.</summary>
    public const long TrueBytes = 1_234_567_168 + 512;

    /// <summary>What the small one claims, bytes.</summary>
    public const long SmallClaimedBytes = 32L << 20;

    /// <summary>What it keeps, bytes: 2,357 blocks, which is a prime, and one sector.</summary>
    public const long SmallTrueBytes = (2_357 * 4096) + 512;

    /// <summary>Bytes of the honest card that is proven whole.</summary>
    public const long SmallBytes = 16L << 20;

    private readonly List<NbdCard> lying = [];
    private Task<Guest>? booted;

    /// <summary>The running guest: mmcblk0 wraps, mmcblk1 drops, mmcblk2 (small) and mmcblk3 are honest, and the former may be pulled; mmcblk4 is small and wraps.</summary>
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
        var small = new NbdCard(SmallClaimedBytes, SmallTrueBytes, PastTheEnd.Wrap);
        CardMedium[] slots = [.. lying, CardImage.Create(SmallBytes), CardImage.Create(64 << 20), small];
        lying.Add(small);
        return Guest.StartAsync(new GuestSetup { Slots = slots });
    }
}
