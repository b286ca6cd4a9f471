using Cardassay.EmulatedBoard.Harness;

namespace Cardassay.EmulatedBoard.Registers;

/// <summary>One board for all register tests, with a card of each size that matters. Booted by the first test that needs it.</summary>
public sealed class RegisterGuest : IAsyncLifetime
{
    private const long MiB = 1 << 20;

    private Task<Guest>? booted;

    /// <summary>Bytes of the cards by disk: 64 MiB and 8 GiB are those whose CSD is known, 2 and 4 GiB the border between CSD versions.</summary>
    public static IReadOnlyDictionary<string, long> CardBytes { get; } = new Dictionary<string, long>
    {
        ["mmcblk0"] = 64 * MiB,
        ["mmcblk1"] = 8192 * MiB,
        ["mmcblk2"] = 2048 * MiB,
        ["mmcblk3"] = 4096 * MiB,
    };

    /// <summary>The running guest.</summary>
    public Task<Guest> ObtainAsync() =>
        booted ??= Guest.StartAsync(new GuestSetup { Slots = [.. CardBytes.Values.Select(CardImage.Create)] });

    /// <inheritdoc/>
    public Task InitializeAsync() => Task.CompletedTask;

    /// <inheritdoc/>
    public async Task DisposeAsync()
    {
        if (booted is { IsCompletedSuccessfully: true })
        {
            await (await booted).DisposeAsync();
        }
    }
}
