using System.Diagnostics;

namespace Cardassay.Collector.Tests.Storage.Postgres;

/// <summary>A small file system on a loop device for a tablespace, with a ballast file to make room again.</summary>
internal sealed class SmallDisk : IDisposable
{
    private readonly string _root = Directory.CreateDirectory($"/var/tmp/cardassay-small-{Guid.NewGuid():N}").FullName;

    internal SmallDisk(long bytes)
    {
        string image = Path.Combine(_root, "image");
        using (FileStream file = File.Create(image))
        {
            file.SetLength(bytes);
        }

        Run("mkfs.ext4", "-q", "-F", "-m", "0", image);
        Directory.CreateDirectory(Mount);
        Run("mount", "-o", "loop", image, Mount);
        Directory.CreateDirectory(Tablespace);
        Run("chown", "-R", "postgres", _root);
    }

    internal string Tablespace => Path.Combine(Mount, "space");

    private string Mount => Path.Combine(_root, "disk");

    private string Ballast => Path.Combine(Mount, "ballast");

    /// <summary>Takes all room but some.</summary>
    internal void Fill(long leaveBytes)
    {
        long free = new DriveInfo(Mount).AvailableFreeSpace;
        Run("fallocate", "-l", Math.Max(1, free - leaveBytes).ToString(System.Globalization.CultureInfo.InvariantCulture), Ballast);
    }

    internal void MakeRoom() => File.Delete(Ballast);

    public void Dispose()
    {
        Run("umount", Mount);
        Directory.Delete(_root, recursive: true);
    }

    private static void Run(string program, params string[] arguments)
    {
        using Process process = Process.Start(program, arguments);
        process.WaitForExit();
        Assert.True(process.ExitCode == 0, $"{program} {string.Join(' ', arguments)} failed");
    }
}
