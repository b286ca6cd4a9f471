using Cardassay.Agent.BlockIo;
using Cardassay.Agent.Trials;
using Cardassay.Trials;

namespace Cardassay.Agent.Tests.Trials;

public sealed class PackageInstallTests : IDisposable
{
    private readonly DirectoryInfo _folder = Directory.CreateTempSubdirectory("cardassay-install-test-");

    public void Dispose() => _folder.Delete(recursive: true);

    [Fact]
    public void Run_InAFolder_MakesFilesAndLeavesNone()
    {
        using var target = FolderTarget.Create(_folder.FullName, 16 << 20);
        TrialSpec spec = TrialEngineTests.Spec(TrialKind.PackageInstall, 1) with { OperationsAtMost = 120, StartBytes = 0, LengthBytes = 16 << 20 };
        TrialRaw raw = TrialEngine.Run(spec, target, new ContentMap(16 << 20), null, CancellationToken.None);
        Assert.Equal((TrialEnd.Finished, 120L), (raw.End, raw.Operations));
        Assert.InRange(raw.Bytes, 120L * (4 << 10), 120L * (256 << 10));

        // The mean of 4 to 256 KiB in steps of 4 is 130 KiB; its deviation over 120 files is 7.
        Assert.InRange(raw.Bytes / 120, 100 << 10, 160 << 10);
        Assert.Empty(Directory.GetFileSystemEntries(_folder.FullName));
    }
}
