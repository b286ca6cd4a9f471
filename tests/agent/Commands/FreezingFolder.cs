using Cardassay.Agent.Tests.Sysfs;

namespace Cardassay.Agent.Tests.Commands;

/// <summary>
/// A folder on a file system of its own that can be made to hang: whoever writes to a frozen file system waits in the kernel until it is
/// thawed (ioctl_fs FIFREEZE, fsfreeze(8)), with no limit, as one does whose card no longer answers.
/// </summary>
internal sealed class FreezingFolder : IDisposable
{
    private readonly DirectoryInfo _folder = Directory.CreateTempSubdirectory("cardassay-freeze-");
    private readonly string _device;
    private bool _isFrozen;

    public FreezingFolder()
    {
        string image = System.IO.Path.Combine(_folder.FullName, "image");
        using (FileStream file = File.Create(image))
        {
            file.SetLength(64 << 20);
        }

        Path = Directory.CreateDirectory(System.IO.Path.Combine(_folder.FullName, "mounted")).FullName;
        _device = Shell.Run("losetup", "--find", "--show", image);
        Shell.Run("mkfs.ext4", "-q", "-F", _device);
        Shell.Run("mount", _device, Path);
    }

    /// <summary>Whether this machine lets tests mount and freeze a file system.</summary>
    public static bool IsPossible => Guard.LoopDevice.Available && Shell.Try("fsfreeze", "--version").Code == 0;

    /// <summary>The folder.</summary>
    public string Path { get; }

    /// <summary>From now on nothing that writes comes back.</summary>
    public void Freeze()
    {
        Shell.Run("fsfreeze", "--freeze", Path);
        _isFrozen = true;
    }

    /// <summary>Everything that waits goes on.</summary>
    public void Thaw()
    {
        if (_isFrozen)
        {
            Shell.Run("fsfreeze", "--unfreeze", Path);
            _isFrozen = false;
        }
    }

    public void Dispose()
    {
        // A file that was left behind stays open until this process ends; the kernel takes mount and device away then.
        Thaw();
        Shell.Run("umount", "--lazy", Path);
        Shell.Run("losetup", "--detach", _device);
        _folder.Delete(recursive: true);
    }
}
