using System.Runtime.InteropServices;
using Cardassay.Agent.BlockIo;
using Cardassay.Agent.Tests.Sysfs;

namespace Cardassay.Agent.Tests.BlockIo;

[Collection("machine")]
public sealed class DeviceTargetTests
{
    // asm-generic/fcntl.h (x86) and arch/arm64/include/uapi/asm/fcntl.h.
    [Theory]
    [InlineData(Architecture.X64, 0x4000)]
    [InlineData(Architecture.Arm64, 0x10000)]
    public void DirectFor_EachArchitecture_IsTheKernelsValue(Architecture architecture, int expected) =>
        Assert.Equal(expected, OpenFlags.DirectFor(architecture));

    [SkippableFact]
    public void Open_LoopDevice_HasTheKernelsSizeAndBlock()
    {
        Skip.IfNot(LoopDevice.IsPossible);
        using var loop = new LoopDevice((8 << 20) + 1024);
        using var target = DeviceTarget.Open(loop.DevicePath, forWriting: true);
        Assert.Equal(8 << 20, target.SizeBytes);
        Assert.Equal(int.Parse(Shell.Run("blockdev", ["--getss", loop.DevicePath])), target.LogicalBlockBytes);
        Assert.False(target.IsGone());
    }

    [SkippableFact]
    public void WriteThenRead_WholeDevice_GivesTheSameBytesToAnotherReader()
    {
        Skip.IfNot(LoopDevice.IsPossible);
        using var loop = new LoopDevice(8 << 20);
        using var buffer = new AlignedBuffer(1 << 20);
        var bytes = new byte[1 << 20];
        new Random(1).NextBytes(bytes);
        Marshal.Copy(bytes, 0, buffer.Address, bytes.Length);
        using (var target = DeviceTarget.Open(loop.DevicePath, forWriting: true))
        {
            Assert.Equal(0, target.Write(3 << 20, buffer.Address, bytes.Length));
            Assert.Equal(0, target.Flush());
            using var back = new AlignedBuffer(1 << 20);
            Assert.Equal(0, target.Read(3 << 20, back.Address, bytes.Length));
            var read = new byte[bytes.Length];
            Marshal.Copy(back.Address, read, 0, read.Length);
            Assert.Equal(bytes, read);
        }

        // An independent reader: plain file I/O of the runtime.
        using FileStream device = File.OpenRead(loop.DevicePath);
        device.Position = 3 << 20;
        var seen = new byte[bytes.Length];
        device.ReadExactly(seen);
        Assert.Equal(bytes, seen);
    }

    [SkippableFact]
    public void Read_PastTheEnd_SaysNoData()
    {
        Skip.IfNot(LoopDevice.IsPossible);
        using var loop = new LoopDevice(1 << 20);
        using var target = DeviceTarget.Open(loop.DevicePath, forWriting: false);
        using var buffer = new AlignedBuffer(8192);
        Assert.Equal(Errno.NoData, target.Read((1 << 20) - 4096, buffer.Address, 8192));
    }

    [SkippableFact]
    public void Open_MountedDevice_SaysInUse()
    {
        Skip.IfNot(LoopDevice.IsPossible);
        using var loop = new LoopDevice(8 << 20);
        Shell.Run("mkfs.ext4", ["-q", loop.DevicePath]);
        using var mount = new ScratchMount("ext4", loop.DevicePath);
        var error = Assert.Throws<TargetException>(() => DeviceTarget.Open(loop.DevicePath, forWriting: true));
        Assert.Equal(TargetErrorKind.InUse, error.Kind);
    }

    [SkippableFact]
    public void Open_ReadOnlyDeviceForWriting_SaysReadOnly()
    {
        Skip.IfNot(LoopDevice.IsPossible);
        using var loop = new LoopDevice(1 << 20, readOnly: true);
        var error = Assert.Throws<TargetException>(() => DeviceTarget.Open(loop.DevicePath, forWriting: true));
        Assert.Equal(TargetErrorKind.ReadOnly, error.Kind);
        DeviceTarget.Open(loop.DevicePath, forWriting: false).Dispose();
    }

    [Theory]
    [InlineData("/dev/does-not-exist", TargetErrorKind.NotFound)]
    [InlineData("/etc/passwd", TargetErrorKind.WrongKind)]
    public void Open_NoDevice_SaysSo(string path, TargetErrorKind kind) =>
        Assert.Equal(kind, Assert.Throws<TargetException>(() => DeviceTarget.Open(path, forWriting: false)).Kind);
}
