namespace Cardassay.EndToEnd.Tests.Faults;

/// <summary>
/// An ext4 whose device can be made to refuse what is written back to it: a loop device on a sparse file in a memory file system
/// that is filled up. Without a journal of its own, so that the failure reaches the fsync of the file and the mount stays writable.
/// </summary>
internal sealed class FailingDisk : IDisposable
{
    private readonly string _memory;
    private readonly string _image;
    private readonly string _ballast;

    internal FailingDisk(string folder)
    {
        _memory = Directory.CreateDirectory(Path.Combine(folder, "memory")).FullName;
        Mount = Directory.CreateDirectory(Path.Combine(folder, "failing")).FullName;
        _image = Path.Combine(_memory, "image");
        _ballast = Path.Combine(_memory, "ballast");
        Running.Run("mount", "-t", "tmpfs", "-o", "size=48m", "tmpfs", _memory).Expect(0);
        using (FileStream file = File.Create(_image))
        {
            file.SetLength(256 << 20);
        }

        // Blocks as long as pages of memory: a shorter one may find room in the page of its neighbour.
        Running.Run("mkfs.ext4", "-q", "-F", "-b", "4096", "-O", "^has_journal", "-E", "lazy_itable_init=0", _image).Expect(0);
        Running.Run("mount", "-o", "loop,errors=continue", _image, Mount).Expect(0);
    }

    internal string Mount { get; }

    /// <summary>From now on no new block of the device can be stored.</summary>
    internal void Fail()
    {
        Running.Run("sync", "-f", Mount).Expect(0);
        using var file = new FileStream(_ballast, FileMode.Create, FileAccess.Write, FileShare.None, bufferSize: 0);
        try
        {
            while (true)
            {
                file.Write(new byte[4096]);
            }
        }
        catch (IOException)
        {
            // Full, but for what the memory file system has set aside per processor.
        }

        File.WriteAllBytes(Path.Combine(Mount, "rest"), new byte[4 << 20].Select((_, i) => (byte)(i * 31 >> 3)).ToArray());
        Running.Run("sync", "-f", Mount); // takes that as well; its own failure is the point
    }

    /// <summary>The device works again; what it had not stored is gone, as after a change of power or cable.</summary>
    internal void Repair()
    {
        File.Delete(_ballast);
        Running.Run("umount", Mount).Expect(0);
        Running.Run("fsck.ext4", "-fy", _image); // exits with 1 when it mended something
        Running.Run("mount", "-o", "loop,errors=continue", _image, Mount).Expect(0);
    }

    public void Dispose()
    {
        Running.Run("umount", Mount);
        Running.Run("umount", _memory);
    }
}
