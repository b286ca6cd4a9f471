using System.Globalization;
using Cardassay.Collector.Notices;
using Cardassay.Collector.Tests.Intake;

namespace Cardassay.Collector.Tests.Notices.Morning;

/// <summary>A whole collector: a board delivers a night, and in the morning the report lies in a folder.</summary>
public sealed class MorningServeTests : IAsyncLifetime
{
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(60);
    private readonly string _folder = Directory.CreateTempSubdirectory("cardassay-share-").FullName;
    private CollectorFixture _collector = null!;

    public async Task InitializeAsync() => _collector = await CollectorFixture.StartAsync();

    [Fact]
    public async Task Serve_StartedAfterTheTimeSet_WritesTheNightOnceAndSaysWhichFolderIsMissing()
    {
        DateTimeOffset now = TimeProvider.System.GetUtcNow();
        _collector.Time.Shift = new DateTimeOffset(now.UtcDateTime.Date, TimeSpan.Zero).AddHours(6) - now;
        string night = now.UtcDateTime.Date.AddDays(-1).ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
        await SampleDelivery.DeliverAsync(_collector);
        await RestartAsync();
        await UntilAsync(() => Task.FromResult(File.Exists(Path.Combine(_folder, "index.html"))));
        Assert.Equal(
            [$"{night}-table.md", $"{night}.html", $"{night}.md", "index.html"], Directory.GetFiles(_folder).Select(f => Path.GetFileName(f)).Order(StringComparer.Ordinal));
        Assert.Contains("T-01", File.ReadAllText(Path.Combine(_folder, night + ".html")), StringComparison.Ordinal);
        string table = File.ReadAllText(Path.Combine(_folder, night + "-table.md"));
        Assert.Contains("T-01", table, StringComparison.Ordinal);
        Assert.DoesNotContain(_collector.Folder, table, StringComparison.Ordinal);
        await UntilAsync(async () => (await _collector.StatusAsync()).NeedsPerson.Any(n => n.Contains(_folder + "/away", StringComparison.Ordinal)));

        // The other one has it; a restart writes nothing again, and the one that was away gets it when it is there.
        DateTime written = File.GetLastWriteTimeUtc(Path.Combine(_folder, "index.html"));
        string away = Directory.CreateDirectory(Path.Combine(_folder, "away")).FullName;
        _collector.Time.Shift += TimeSpan.FromMinutes(10);
        await _collector.StopAsync();
        await _collector.StartAgainAsync();
        await UntilAsync(() => Task.FromResult(File.Exists(Path.Combine(away, "index.html"))));
        Assert.Equal(File.ReadAllBytes(Path.Combine(_folder, night + ".html")), File.ReadAllBytes(Path.Combine(away, night + ".html")));
        Assert.Equal(written, File.GetLastWriteTimeUtc(Path.Combine(_folder, "index.html")));
        await UntilAsync(async () => !(await _collector.StatusAsync()).NeedsPerson.Any(n => n.Contains("away", StringComparison.Ordinal)));
    }

    public async Task DisposeAsync()
    {
        await _collector.DisposeAsync();
        Directory.Delete(_folder, recursive: true);
    }

    private static async Task UntilAsync(Func<Task<bool>> holds)
    {
        using var limit = new CancellationTokenSource(Patience);
        while (!await holds())
        {
            await Task.Delay(50, limit.Token);
        }
    }

    private async Task RestartAsync()
    {
        await _collector.StopAsync();
        File.WriteAllText(
            Path.Combine(_collector.Folder, NoticeSettingsFile.Name),
            $$"""{ "morning": { "at": "05:00", "folders": ["{{_folder}}", "{{_folder}}/away"] }, "timeZone": "Etc/UTC" }""");
        await _collector.StartAgainAsync();
    }
}
