namespace Cardassay.Agent.BlockIo;

/// <summary>
/// File systems and mount options that take O_DIRECT and answer from the page cache all the same: open(2) says nothing, and the figure
/// would be that of the board's memory. What is not named here and buffers too is found by the disk's counters after a trial.
/// </summary>
internal static class BufferingFileSystems
{
    /// <summary>
    /// Why a folder there cannot be measured, as the end of a sentence that begins with its path; null
    /// when nothing is known against it.
    /// </summary>
    /// <param name="fileSystem">Type as /proc/self/mountinfo names it; null when not known.</param>
    /// <param name="mountOptions">Options of mount and superblock, separated by commas.</param>
    public static string? WhyRefused(string? fileSystem, string? mountOptions)
    {
        string[] options = (mountOptions ?? "").Split(',', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries);
        return fileSystem switch
        {
            // Linux, fs/ext4/inode.c, ext4_should_use_dio: data journalling falls back to buffered I/O.
            "ext3" or "ext4" when options.Contains("data=journal") =>
                $"is on {fileSystem} mounted with data=journal, which sends direct I/O through the page cache; mount it with data=ordered.",

            // Linux, fs/f2fs/f2fs.h, f2fs_force_buffered_io: a log-structured mount writes through the page cache.
            "f2fs" when options.Contains("mode=lfs") =>
                "is on f2fs mounted with mode=lfs, which sends direct I/O through the page cache; mount it with mode=adaptive.",

            // Linux, fs/btrfs/direct-io.c: from 6.15 on data with checksums is written through the page cache (from memory).
            "btrfs" when !options.Contains("nodatasum") && !options.Contains("nodatacow") =>
                "is on btrfs with checksums of the data, which newer kernels write through the page cache; mount it with nodatasum, "
                    + "or give a folder on ext4.",

            // The program behind a FUSE mount does the transfers as it likes (Linux, Documentation/filesystems/fuse-io.rst).
            "fuse" or "fuseblk" => Served(fileSystem),
            { } served when served.StartsWith("fuse.", StringComparison.Ordinal) => Served(served),

            // Caches of its own above the disk (from memory: direct I/O is taken and not done before version 2.3).
            "zfs" => "is on zfs, which keeps a cache of its own above the disk; give a folder on ext4.",
            _ => null,
        };
    }

    private static string Served(string fileSystem) =>
        $"is on a file system that a program serves ({fileSystem}), behind which nobody knows what is cached; "
            + "give a folder on a file system of the kernel.";
}
