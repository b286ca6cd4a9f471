using Cardassay.Agent.Tests.Sysfs;

namespace Cardassay.Agent.Tests.Guard;

/// <summary>A real loop device on a temporary file; detached and removed at the end.</summary>
internal sealed class LoopDevice : IDisposable
{
    private readonly DirectoryInfo _folder = Directory.CreateTempSubdirectory("cardassay-loop-");
    private readonly Stack<Action> _undo = new();

    private LoopDevice(long bytes, string[] options)
    {
        Image = Path.Combine(_folder.FullName, "image");
        using (FileStream file = File.Create(Image))
        {
            file.SetLength(bytes);
        }

        Node = Shell.Run("losetup", ["-f", "--show", .. options, Image]);
    }

    /// <summary>Device node.</summary>
    public string Node { get; }

    /// <summary>Kernel name.</summary>
    public string Name => Path.GetFileName(Node);

    /// <summary>The file below.</summary>
    public string Image { get; }

    /// <summary>A folder of this test's own.</summary>
    public string Folder => _folder.FullName;

    /// <summary>Whether this machine lets tests set up loop devices.</summary>
    public static bool Available => Environment.IsPrivilegedProcess && File.Exists("/dev/loop-control") && Shell.Try("losetup", "-V").Code == 0;

    public static LoopDevice Create(long bytes, params string[] options) => new(bytes, options);

    /// <summary>Runs this before the device is detached.</summary>
    public void Later(Action undo) => _undo.Push(undo);

    /// <summary>Makes an ext4 file system and mounts it.</summary>
    public string Mount(string? device = null)
    {
        string point = Path.Combine(Folder, "mount point");
        Directory.CreateDirectory(point);
        Shell.Run("mkfs.ext4", "-q", "-F", device ?? Node);
        Shell.Run("mount", device ?? Node, point);
        Later(() => Shell.Run("umount", point));
        return point;
    }

    public void Dispose()
    {
        while (_undo.TryPop(out Action? undo))
        {
            undo();
        }

        Shell.Run("losetup", "-d", Node);
        _folder.Delete(recursive: true);
    }
}
