using System.Net;
using System.Text.RegularExpressions;
using Cardassay.Collector.Tests.Intake;
using Cardassay.Trials;
using Cardassay.Wire;

namespace Cardassay.Collector.Tests.Observability;

/// <summary>A real collector's metrics and health over HTTP, against what was delivered to it and against `status`.</summary>
public sealed class MetricsTests : IAsyncLifetime
{
    private readonly HttpClient _http = new();
    private CollectorFixture _collector = null!;

    public async Task InitializeAsync() => _collector = await CollectorFixture.StartAsync(withPage: true);

    public async Task DisposeAsync()
    {
        _http.Dispose();
        await _collector.DisposeAsync();
    }

    [Fact]
    public async Task Scrape_AfterDeliveries_KeepsTheFormatAndSaysWhatStatusSays()
    {
        byte[] epoch = TestBoard.NewEpoch();
        using var board = new TestBoard(_collector);
        await board.GreetAsync(epoch, 1, 40, name: "bench-3");
        await board.NextAsync();
        V1.Record[] records = [.. Enumerable.Range(1, 3).Select(i => TestBoard.Record(epoch, (ulong)i, [(byte)i, 7]))];
        await board.SendAsync(records);
        await board.ReceiptAsync(3);
        await board.SendAsync(records[0], records[1]); // two duplicates
        await board.ReceiptAsync(3);
        await board.SendAsync(TestBoard.Record(epoch, 1, [99])); // a conflict
        await board.ReceiptAsync(3);
        await board.SendAsync(TestBoard.Record(epoch, 9, [9])); // beyond a gap
        await board.ReceiptAsync(3);
        await board.NextAsync();
        byte[] lost = ObservationCodec.Encode(new RangeLost
        {
            Epoch = Convert.ToHexStringLower(TestBoard.NewEpoch()), FirstSequence = 1, LastSequence = 12, Reason = "a damaged segment",
        });
        await board.SendAsync(TestBoard.Record(epoch, 4, lost));
        await board.ReceiptAsync(4);
        V1.CollectorStatus status = await _collector.StatusAsync();

        (Exposition metrics, string type) = await ScrapeAsync();

        Assert.StartsWith("text/plain; ", type, StringComparison.Ordinal);
        Assert.Contains("version=0.0.4", type, StringComparison.Ordinal);
        (string Metric, double Expected, double Status)[] agreed =
        [
            ("cardassay_records_received_total", 4, status.ReceivedSinceStart),
            ("cardassay_records_duplicate_total", 2, status.RecordsDuplicate),
            ("cardassay_records_conflicting_total", 1, status.ConflictsSinceStart),
            ("cardassay_records_skipped_total", 1, status.SkippedSinceStart),
            ("cardassay_records_missing_total", 12, status.MissingSinceStart),
            ("cardassay_received_bytes_total", 6 + lost.Length, 6 + lost.Length),
            ("cardassay_store_remade_total", 0, 0),
            ("cardassay_boards_present", 1, status.BoardsConnected),
            ("cardassay_boards_known", 1, status.BoardsKnown),
            ("cardassay_board_backlog", 36, status.BacklogRecords), // 40 less the 4 that were new
            ("cardassay_apply_lag", 0, 0),
            ("cardassay_apply_lag_time_seconds", 0, 0),
            ("cardassay_intake_size_bytes", status.IntakeBytes, status.IntakeBytes),
        ];
        Assert.All(agreed, a => Assert.Equal((a.Metric, a.Expected, a.Expected), (a.Metric, metrics.Value(a.Metric), a.Status)));
        Assert.Equal(["bench-3"], status.BoardsPresent);
        Assert.Equal("bench-3", metrics.Samples.Single(s => s.Name == "cardassay_board_backlog").Labels["board"]);
        Assert.Equal(5, metrics.Value("cardassay_receipt_duration_seconds_count"));
        Assert.InRange(metrics.Value("cardassay_intake_fullness"), 0, 1);
    }

    [Fact]
    public async Task Scrape_TwoCollectorsInOneProcess_EachShowsItsOwn()
    {
        await using CollectorFixture other = await CollectorFixture.StartAsync(withPage: true);
        byte[] epoch = TestBoard.NewEpoch();
        using var board = new TestBoard(other);
        await board.GreetAsync(epoch, 1, 1);
        await board.NextAsync();
        await board.SendAsync(TestBoard.Record(epoch, 1, [1]));
        await board.ReceiptAsync(1);
        Assert.Equal((0, 1), ((await ScrapeAsync()).Metrics.Value("cardassay_records_received_total"), (await ScrapeAsync(other)).Metrics.Value("cardassay_records_received_total")));
    }

    [Fact]
    public async Task Scrape_NamesExactlyTheMetricsOfTheTable()
    {
        using var board = new TestBoard(_collector);
        await board.GreetAsync(TestBoard.NewEpoch(), 1, 1);
        await board.NextAsync();
        byte[] epoch = TestBoard.NewEpoch();
        await board.SendAsync(TestBoard.Record(epoch, 1, [1]));
        await board.ReceiptAsync(1);
        string readme = await File.ReadAllTextAsync(Path.Combine(EventTableTests.RepositoryRoot(), "collector", "Observability", "README.md"));
        (string, string)[] table =
            [.. Regex.Matches(readme, @"^\| `(cardassay_\w+)[^`]*` \| (\w+) \|", RegexOptions.Multiline).Select(m => (m.Groups[1].Value, m.Groups[2].Value)).Order()];

        (Exposition metrics, _) = await ScrapeAsync();

        Assert.Equal(table, metrics.Types.Where(t => t.Key.StartsWith("cardassay_", StringComparison.Ordinal)).Select(t => (t.Key, t.Value)).Order());
        Assert.All(table, row => Assert.False(string.IsNullOrWhiteSpace(metrics.Helps.GetValueOrDefault(row.Item1)), row.Item1));
    }

    [Fact]
    public async Task BoardsDoor_AnswersNoPageNoMetricsNoHealth()
    {
        foreach (string path in (string[])["/", "/metrics", "/health/live", "/health/ready", "/report"])
        {
            using var request = new HttpRequestMessage(HttpMethod.Get, $"http://{_collector.Listen}{path}")
            {
                Version = HttpVersion.Version20,
                VersionPolicy = HttpVersionPolicy.RequestVersionExact,
            };
            using HttpResponseMessage answer = await _http.SendAsync(request);
            Assert.Equal((path, HttpStatusCode.NotFound), (path, answer.StatusCode));
        }
    }

    [Fact]
    public async Task Ready_SaysReadyAndWhatWasChecked()
    {
        using HttpResponseMessage answer = await _http.GetAsync($"http://{_collector.Page}/health/ready");
        string text = await answer.Content.ReadAsStringAsync();
        Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
        Assert.StartsWith("ready\n", text, StringComparison.Ordinal);
        Assert.Contains("intake log: entry 0 is on the disk\n", text, StringComparison.Ordinal);
        Assert.Contains("database: applied through 0\n", text, StringComparison.Ordinal);
        Assert.Equal("alive\n", await _http.GetStringAsync($"http://{_collector.Page}/health/live"));
    }

    private async Task<(Exposition Metrics, string Type)> ScrapeAsync(CollectorFixture? collector = null)
    {
        using HttpResponseMessage answer = await _http.GetAsync($"http://{(collector ?? _collector).Page}/metrics");
        Assert.Equal(HttpStatusCode.OK, answer.StatusCode);
        return (Exposition.Parse(await answer.Content.ReadAsStringAsync()), answer.Content.Headers.ContentType!.ToString());
    }
}
