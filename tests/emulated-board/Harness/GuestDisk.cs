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

    /// <summary>The records of the agent's journal. No guest may use the disk, and the last one must have put it away.</summary>
    public async Task<IReadOnlyList<KeptRecord>> ReadJournalAsync()
    {
        string folder = WorkFolder.NewPath("journal");
        Directory.CreateDirectory(folder);
        await HostCommand.RunAsync(TimeSpan.FromMinutes(1), "debugfs", "-R", $"rdump /agent/journal {folder}", Path);
        return
        [
            .. KeptRecord.ReadLog(System.IO.Path.Combine(folder, "journal"))
                .Select(r => new KeptRecord(r.Epoch.ToString(), r.Sequence, Convert.ToHexStringLower(r.Payload.Span))),
        ];
    }
}
