namespace Cardassay.EmulatedBoard.Harness;

/// <summary>A disk of the board that is no card: an ext4 image which outlives the guests that use it. `/dev/vda` in the guest.</summary>
public sealed class GuestDisk
{
    private GuestDisk(string path) => Path = path;

    /// <summary>Path of the image.</summary>
    public string Path { get; }

    /// <summary>A formatted, empty disk.</summary>
    public static async Task<GuestDisk> CreateAsync(long sizeBytes)
    {
        string path = WorkFolder.NewPath("disk");
        await using (FileStream file = new(path, FileMode.CreateNew))
        {
            file.SetLength(sizeBytes);
        }

        await HostCommand.RunAsync(TimeSpan.FromMinutes(1), "mkfs.ext4", "-q", path);
        return new GuestDisk(path);
    }
}
