using System.Globalization;

namespace Cardassay.EndToEnd.Tests;

/// <summary>A real block device made of a file.</summary>
internal sealed class LoopDevice : IDisposable
{
    private readonly string _file;
    private readonly long _sectorsAtStart;
    private bool _isMounted;

    internal LoopDevice(string folder, long bytes)
    {
        _file = System.IO.Path.Combine(folder, $"loop-{Guid.NewGuid():N}.img");
        using (FileStream image = File.Create(_file))
        {
            image.SetLength(bytes);
        }

        Path = Running.Run("losetup", "--find", "--show", "--direct-io=on", _file).Expect(0).Output.Trim();
        Bytes = bytes;
        _sectorsAtStart = SectorsSinceBoot;
    }

    internal string Path { get; }

    internal long Bytes { get; }

    internal string Name => System.IO.Path.GetFileName(Path);

    /// <summary>Sectors (512 bytes) written since the device was made: `/sys/block/NAME/stat`, field 7 (kernel: Documentation/block/stat).</summary>
    internal long SectorsWritten => SectorsSinceBoot - _sectorsAtStart; // the kernel counts per loop number, through every use of it

    private long SectorsSinceBoot => long.Parse(
        File.ReadAllText($"/sys/block/{Name}/stat").Split(' ', StringSplitOptions.RemoveEmptyEntries)[6], CultureInfo.InvariantCulture);

    internal byte[] ReadAll() => File.ReadAllBytes(_file);

    /// <summary>The medium is gone, the device stays: as a slot whose card is pulled.</summary>
    internal void Pull()
    {
        using (FileStream image = File.OpenWrite(_file))
        {
            image.SetLength(0);
        }

        Running.Run("losetup", "--set-capacity", Path).Expect(0);
    }

    internal void Format() => Running.Run("mkfs.ext4", "-q", "-F", "-E", "lazy_itable_init=0,lazy_journal_init=0", Path).Expect(0);

    internal string Mount(string at)
    {
        Directory.CreateDirectory(at);
        Running.Run("mount", Path, at).Expect(0);
        _isMounted = true;
        return at;
    }

    public void Dispose()
    {
        if (_isMounted)
        {
            Running.Run("umount", Path).Expect(0);
        }

        Running.Run("losetup", "--detach", Path).Expect(0);
        File.Delete(_file);
    }
}
