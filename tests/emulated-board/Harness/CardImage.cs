namespace Cardassay.EmulatedBoard.Harness;

/// <summary>
/// An honest card: a sparse file. The emulator makes the registers from its size, which must be a power of 2: 32 MiB to 2 GiB
/// give a version 1 CSD, 4 to 16 GiB version 2.
/// </summary>
public sealed class CardImage : CardMedium
{
    private CardImage(string path) => Source = path;

    /// <inheritdoc/>
    public override string Source { get; }

    /// <summary>An empty card.</summary>
    public static CardImage Create(long sizeBytes)
    {
        string path = WorkFolder.NewPath("card");
        using FileStream file = new(path, FileMode.CreateNew);
        file.SetLength(sizeBytes);
        return new CardImage(path);
    }
}
