using Cardassay.Agent.BlockIo;
using Cardassay.Agent.Tests.Sysfs;

namespace Cardassay.Agent.Tests.BlockIo;

[Collection("machine")]
public sealed class FolderTargetTests
{
    [Fact]
    public void Create_FolderOnDisk_LeavesNoNameAndTakesTheSpace()
    {
        string folder = Directory.CreateTempSubdirectory("cardassay-folder-").FullName;
        using (var target = FolderTarget.Create(folder, 8 << 20))
        {
            Assert.Equal(8 << 20, target.SizeBytes);
            Assert.Empty(Directory.EnumerateFileSystemEntries(folder));
            using var buffer = new AlignedBuffer(4096);
            Assert.Equal(0, target.Write(4096, buffer.Address, 4096));
            Assert.Equal(0, target.Flush());
            Assert.Equal(0, target.Write(8 << 20, buffer.Address, 4096));
            Assert.Equal(0, target.DropExtension());
            Assert.Equal(Errno.NoData, target.Read(8 << 20, buffer.Address, 4096));
        }

        Directory.Delete(folder);
    }

    [SkippableFact]
    public void Create_SmallFileSystem_SaysNoSpaceAndLeavesNothing()
    {
        Skip.IfNot(LoopDevice.IsPossible);
        using var loop = new LoopDevice(32 << 20);
        Shell.Run("mkfs.ext4", ["-q", loop.DevicePath]);
        using var mount = new ScratchMount("ext4", loop.DevicePath);
        var error = Assert.Throws<TargetException>(() => FolderTarget.Create(mount.Folder, 64 << 20));
        Assert.Equal(TargetErrorKind.NoSpace, error.Kind);
        Assert.Contains("64 MiB", error.Message, StringComparison.Ordinal);
        Assert.Equal(["lost+found"], Directory.EnumerateFileSystemEntries(mount.Folder).Select(Path.GetFileName));
    }

    [SkippableFact]
    public void Create_Tmpfs_SaysInMemory()
    {
        Skip.IfNot(LoopDevice.IsPossible);
        using var mount = new ScratchMount("tmpfs", "none", "size=64m");
        Assert.Equal(TargetErrorKind.InMemory, Assert.Throws<TargetException>(() => FolderTarget.Create(mount.Folder, 1 << 20)).Kind);
    }

    // hugetlbfs is a file system whose files refuse O_DIRECT with EINVAL (open(2), errors).
    [SkippableFact]
    public void Create_FileSystemWithoutDirectIo_SaysSoAndLeavesNothing()
    {
        Skip.IfNot(LoopDevice.IsPossible);
        using var mount = new ScratchMount("hugetlbfs", "none");
        Assert.Equal(TargetErrorKind.NoDirectIo, Assert.Throws<TargetException>(() => FolderTarget.Create(mount.Folder, 2 << 20)).Kind);
        Assert.Empty(Directory.EnumerateFileSystemEntries(mount.Folder));
    }

    [SkippableFact]
    public void Create_ReadOnlyFileSystem_SaysReadOnly()
    {
        Skip.IfNot(LoopDevice.IsPossible);
        using var loop = new LoopDevice(32 << 20);
        Shell.Run("mkfs.ext4", ["-q", loop.DevicePath]);
        using var mount = new ScratchMount("ext4", loop.DevicePath, "ro");
        Assert.Equal(TargetErrorKind.ReadOnly, Assert.Throws<TargetException>(() => FolderTarget.Create(mount.Folder, 1 << 20)).Kind);
        Assert.Contains("read-only", FolderTarget.WhyUnusable(mount.Folder, 1 << 20), StringComparison.Ordinal);
    }

    [SkippableFact]
    public void Create_FolderThatMayNotBeWritten_SaysNoPermission()
    {
        Skip.IfNot(LoopDevice.IsPossible);
        using var loop = new LoopDevice(32 << 20);
        Shell.Run("mkfs.ext4", ["-q", loop.DevicePath]);
        using var mount = new ScratchMount("ext4", loop.DevicePath);

        // Immutable: refused even to root (chattr(1)).
        string folder = Directory.CreateDirectory(Path.Combine(mount.Folder, "locked")).FullName;
        Assert.Null(FolderTarget.WhyUnusable(folder, 1 << 20));
        Shell.Run("chattr", ["+i", folder]);
        try
        {
            Assert.Contains("may not write in", FolderTarget.WhyUnusable(folder, 1 << 20), StringComparison.Ordinal);
            Assert.Equal(TargetErrorKind.NoPermission, Assert.Throws<TargetException>(() => FolderTarget.Create(folder, 1 << 20)).Kind);
        }
        finally
        {
            Shell.Run("chattr", ["-i", folder]);
        }
    }

    [Theory]
    [InlineData("/does/not/exist", TargetErrorKind.NotFound)]
    [InlineData("/etc/passwd", TargetErrorKind.WrongKind)]
    public void Create_NoFolder_SaysSo(string folder, TargetErrorKind kind) =>
        Assert.Equal(kind, Assert.Throws<TargetException>(() => FolderTarget.Create(folder, 1 << 20)).Kind);
}
