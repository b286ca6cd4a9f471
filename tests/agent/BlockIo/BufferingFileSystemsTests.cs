using Cardassay.Agent.BlockIo;

namespace Cardassay.Agent.Tests.BlockIo;

public sealed class BufferingFileSystemsTests
{
    [Theory]
    [InlineData("ext4", "rw,relatime,data=journal", "data=journal")]
    [InlineData("ext4", "rw,relatime,data=ordered", null)]
    [InlineData("ext4", "rw,relatime", null)]
    [InlineData("vfat", "rw,umask=077", null)]
    [InlineData("f2fs", "rw,mode=lfs", "mode=lfs")]
    [InlineData("f2fs", "rw,mode=adaptive", null)]
    [InlineData("btrfs", "rw,space_cache", "checksums")]
    [InlineData("btrfs", "rw,nodatasum", null)]
    [InlineData("fuseblk", "rw", "fuseblk")]
    [InlineData("fuse.sshfs", "rw", "fuse.sshfs")]
    [InlineData("zfs", null, "zfs")]
    [InlineData(null, null, null)]
    public void WhyRefused_OnlyWhatBuffers_IsNamed(string? fileSystem, string? options, string? named)
    {
        string? why = BufferingFileSystems.WhyRefused(fileSystem, options);
        Assert.Equal(named is null, why is null);
        Assert.Contains(named ?? "", why ?? "", StringComparison.Ordinal);
    }
}
