using Cardassay.Collector.Commands;
using Cardassay.Collector.Tests.Intake;

namespace Cardassay.Collector.Tests.Commands;

public sealed class ReportFolderTests : IAsyncLifetime
{
    private static readonly DateTime Before = new(2031, 1, 1, 0, 0, 0, DateTimeKind.Utc);
    private readonly string _folder = Path.Combine(Directory.CreateTempSubdirectory("cardassay-folder-").FullName, "my morning");
    private CollectorFixture _collector = null!;

    public async Task InitializeAsync() => _collector = await CollectorFixture.StartAsync();

    [Fact]
    public async Task WriteAsync_OnlyNews_LeavesTheFolderAloneUntilAVerdictChanges()
    {
        await SampleDelivery.DeliverAsync(_collector);
        Assert.True(await IsWrittenAsync(onlyNews: true)); // nothing was there
        Assert.False(await IsWrittenAsync(onlyNews: true));
        await SampleDelivery.DeliverAsync(_collector, night: 1); // another run, of which nothing follows
        Assert.False(await IsWrittenAsync(onlyNews: true));
        Assert.True(await IsWrittenAsync(onlyNews: false));
        await _collector.AskAsync(async o => await o.RecordClaimsAsync(new V1.ClaimBatch { Claims = { new V1.Claim { Tag = "T-01", Maker = "Halvorn", LabelGigabytes = "128" } } }));
        Assert.True(await IsWrittenAsync(onlyNews: true));
        Assert.Contains("not as claimed", File.ReadAllText(Path.Combine(_folder, "report.md")), StringComparison.Ordinal);
        Assert.False(await IsWrittenAsync(onlyNews: true));
        File.WriteAllText(Path.Combine(_folder, "report.json"), "{ \"cards\": 7 }");
        Assert.True(await IsWrittenAsync(onlyNews: true)); // what cannot be read tells nothing of what is known
    }

    public async Task DisposeAsync()
    {
        await _collector.DisposeAsync();
        Directory.Delete(Path.GetDirectoryName(_folder)!, recursive: true);
    }

    /// <summary>All five files are written, or none is touched.</summary>
    private async Task<bool> IsWrittenAsync(bool onlyNews)
    {
        foreach (string file in Directory.Exists(_folder) ? Directory.GetFiles(_folder) : [])
        {
            File.SetLastWriteTimeUtc(file, Before);
        }

        await using OperatorSession session = await OperatorSession.OpenAsync(_collector.Folder, TimeProvider.System, CancellationToken.None);
        await ReportFolder.WriteAsync(session, new V1.ReportRequest { Profile = "system-disk" }, _folder, onlyNews, CancellationToken.None);
        string[] files = Directory.GetFiles(_folder);
        Assert.Equal(ReportFolder.Renderings.Count, files.Length);
        return Assert.Single(files.Select(f => File.GetLastWriteTimeUtc(f) != Before).Distinct());
    }
}
