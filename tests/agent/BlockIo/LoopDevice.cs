using Cardassay.Agent.BlockIo;
using Cardassay.Agent.Tests.Sysfs;

namespace Cardassay.Agent.Tests.BlockIo;

/// <summary>A loop device on a scratch file, with direct I/O below it where the file system can; removed at the end.</summary>
internal sealed class LoopDevice : IDisposable
{
    private readonly string _file;

    public LoopDevice(long sizeBytes, bool readOnly = false)
    {
        _file = Path.Combine(Path.GetTempPath(), $"cardassay-loop-{Guid.NewGuid():N}.img");
        using (FileStream stream = File.Create(_file))
        {
            stream.SetLength(sizeBytes);
        }

        DevicePath = Shell.Run("losetup", readOnly ? ["--read-only", "--find", "--show", _file] : ["--direct-io=on", "--find", "--show", _file]).Trim();
        Name = Path.GetFileName(DevicePath);
    }

    /// <summary>True where loop devices can be made.</summary>
    public static bool IsPossible => Environment.UserName == "root" && File.Exists("/dev/loop-control");

    public string DevicePath { get; }

    public string Name { get; }

    /// <summary>
    /// Fields of `/sys/block/NAME/stat` (Documentation/block/stat.rst): reads, -, sectors read, -, writes, -, sectors written, -, in flight. Read
    /// when nothing is in flight: the kernel wakes the caller of a request first and counts the request after (block/blk-mq.c,
    /// `blk_update_request` before `blk_account_io_done`), so a count taken at once may lack the last one.
    /// </summary>
    public (long Reads, long SectorsRead, long Writes, long SectorsWritten) Counters()
    {
        long[] fields;
        do
        {
            fields = [.. File.ReadAllText($"/sys/block/{Name}/stat").Split(' ', StringSplitOptions.RemoveEmptyEntries).Select(long.Parse)];
        }
        while (fields[8] != 0);

        return (fields[0], fields[2], fields[4], fields[6]);
    }

    public void Dispose()
    {
        Shell.Run("losetup", ["--detach", DevicePath]);
        File.Delete(_file);
    }
}

/// <summary>A mounted file system; unmounted at the end.</summary>
internal sealed class ScratchMount : IDisposable
{
    public ScratchMount(string type, string source, string options = "defaults")
    {
        Folder = Directory.CreateTempSubdirectory("cardassay-mount-").FullName;
        Shell.Run("mount", ["-t", type, "-o", options, source, Folder]);
    }

    public string Folder { get; }

    public void Dispose()
    {
        Shell.Run("umount", [Folder]);
        Directory.Delete(Folder);
    }
}

/// <summary>Loop devices and mounts are shared by the machine: one test at a time.</summary>
[CollectionDefinition("machine", DisableParallelization = true)]
public sealed class MachineCollection;
