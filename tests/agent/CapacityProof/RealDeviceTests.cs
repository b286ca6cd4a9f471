using Cardassay.Agent.BlockIo;
using Cardassay.Agent.Tests.BlockIo;
using Cardassay.Agent.Tests.Sysfs;
using Cardassay.Fixtures.Cards;
using Cardassay.Trials;

namespace Cardassay.Agent.Tests.CapacityProof;

/// <summary>Proofs on real block devices: a loop device, device-mapper, and lying cards served from user space below a loop device.</summary>
[Collection("machine")]
public sealed class RealDeviceTests
{
    private const long Size = 48 << 20;
    private const long True = 31 << 20;

    [SkippableTheory]
    [InlineData(true)]
    [InlineData(false)]
    public void Prove_HonestLoopDevice_FindsNothing(bool full)
    {
        Skip.IfNot(LoopDevice.IsPossible, "needs root and loop devices");
        using var device = new LoopDevice(Size);
        ProofMeasured proof = Prove(device.DevicePath, full);
        Assert.Equal(ProofFinding.NoneFound, proof.Finding);
    }

    [SkippableTheory]
    [InlineData(true)]
    [InlineData(false)]
    public void Prove_ServedCardThatWraps_GivesItsSize(bool full) => ProveServed(
        full, below => new WrapLayer(below, True), ProofFinding.Wrap, True);

    [SkippableTheory]
    [InlineData(true)]
    [InlineData(false)]
    public void Prove_ServedCardThatDrops_GivesItsSize(bool full) => ProveServed(
        full, below => new DropLayer(below, at => at >= True, 0), ProofFinding.Drop, True);

    [SkippableTheory]
    [InlineData(true)]
    [InlineData(false)]
    public void Prove_ServedCardWithAnUnreadableTop_GivesItsSize(bool full) => ProveServed(
        full, below => new ErrorLayer(below, at => at >= True), ProofFinding.Unreadable, True);

    [SkippableTheory]
    [InlineData("error", ProofFinding.Unreadable)]
    [InlineData("zero", ProofFinding.Drop)]
    [InlineData("wrap", ProofFinding.Wrap)]
    public void Prove_MappedDevice_GivesItsSize(string lie, ProofFinding expected)
    {
        Skip.IfNot(LoopDevice.IsPossible, "needs root and loop devices");
        Skip.If(Shell.Try("dmsetup", "version").Code != 0, "this kernel has no device-mapper");
        using var device = new LoopDevice(Size);
        string name = $"cardassay-{Guid.NewGuid():N}";
        long real = True / 512;
        string top = lie == "wrap" ? $"linear {device.DevicePath} 0" : lie;
        string table = $"0 {real} linear {device.DevicePath} 0\n{real} {(Size / 512) - real} {top}";
        Shell.Run("dmsetup", "create", name, "--table", table);
        try
        {
            foreach (bool full in new[] { false, true })
            {
                ProofMeasured proof = Prove($"/dev/mapper/{name}", full);
                Assert.Equal((expected, True), (proof.Finding, proof.TrueBytes));
            }
        }
        finally
        {
            Shell.Run("dmsetup", "remove", name);
        }
    }

    private static void ProveServed(bool full, Func<CardLayer, CardLayer> fault, ProofFinding finding, long trueBytes)
    {
        Skip.IfNot(CardExport.IsPossible, "needs root, /dev/fuse and loop devices");
        using var export = new CardExport(fault(new CardStore(BlankContent.OldFiles, 1)), Size);
        ProofMeasured proof = Prove(export.DevicePath, full);
        Assert.Equal((finding, trueBytes), (proof.Finding, proof.TrueBytes));
    }

    private static ProofMeasured Prove(string path, bool full)
    {
        using DeviceTarget target = DeviceTarget.Open(path, forWriting: true);
        return full ? Proving.Full(target) : Proving.Sparse(target);
    }
}
