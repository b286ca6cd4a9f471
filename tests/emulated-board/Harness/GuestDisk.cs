namespace Cardassay.EmulatedBoard.Harness;

/// <summary>A disk of the board that is no card: an ext4 image which outlives the guests that use it. `/dev/vda` in the guest, or `/dev/vdb` beside a system's.</summary>
public sealed class GuestDisk
{
    private GuestDisk(string path) => Path = path;

    /// <summary>Path of the image.</summary>
    public string Path { get; }

    /// <summary>A formatted disk.</summary>
    /// <param name="sizeBytes">Its size.</param>
    /// <param name="folder">A folder of this machine whose content lies on it; null for an empty disk.</param>
    public static async Task<GuestDisk> CreateAsync(long sizeBytes, string? folder = null)
    {
        string path = WorkFolder.NewPath("disk");
        await using (FileStream file = new(path, FileMode.CreateNew))
        {
            file.SetLength(sizeBytes);
        }

        await HostCommand.RunAsync("mkfs.ext4", ["-q", .. folder is null ? (string[])[] : ["-d", folder], path]);
        return new GuestDisk(path);
    }

    /// <summary>
    /// A copy of a plain Debian with systemd, for <see cref="GuestSetup.System"/>. The distribution is fetched and set up once, by a guest:
    /// its packages' own scripts are programs of the board's architecture. Skips the calling test where the machine cannot have one.
    /// </summary>
    public static async Task<GuestDisk> CreateSystemAsync()
    {
        if (!Environment.IsPrivilegedProcess)
        {
            HostTools.Unavailable("making a distribution's disk needs root, because its files get their owners");
        }

        string build = Repository.At("tests", "emulated-board", "guest", "build-system");
        string configure = Repository.At("tests", "emulated-board", "scenarios", "configure-system.sh");
        string kept = await CacheFolder.ObtainAsync("system", CacheFolder.KeyOf(build, configure), async partial =>
        {
            try
            {
                await HostCommand.RunAsync(build, partial);
            }
            catch (InvalidOperationException e)
            {
                HostTools.Unavailable($"the distribution's packages cannot be fetched: {e.Message}");
            }

            GuestDisk disk = new(System.IO.Path.Combine(partial, "system.ext4"));
            await using Guest guest = await Guest.StartAsync(new GuestSetup { Disk = disk });
            await (await guest.BeginAsync("configure-system")).SucceedAsync();
        });
        string path = WorkFolder.NewPath("system");
        await HostCommand.RunAsync("cp", "--sparse=always", System.IO.Path.Combine(kept, "system.ext4"), path);
        return new GuestDisk(path);
    }

    /// <summary>The records of the agent's journal. No guest may use the disk, and the last one must have put it away.</summary>
    public async Task<IReadOnlyList<KeptRecord>> ReadJournalAsync()
    {
        string folder = WorkFolder.NewPath("journal");
        Directory.CreateDirectory(folder);
        await HostCommand.RunAsync("debugfs", "-R", $"rdump /agent/journal {folder}", Path);
        return
        [
            .. KeptRecord.ReadLog(System.IO.Path.Combine(folder, "journal"))
                .Select(r => new KeptRecord(r.Epoch.ToString(), r.Sequence, Convert.ToHexStringLower(r.Payload.Span))),
        ];
    }
}
