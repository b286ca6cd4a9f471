using System.Net;
using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using Cardassay.Collector.Notices;
using Cardassay.Collector.Notices.Morning;
using Cardassay.Collector.Tests.Notices.Morning;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Hosting;
using Microsoft.AspNetCore.Http;
using Microsoft.Extensions.Hosting;
using Microsoft.Extensions.Logging;
using Microsoft.Extensions.Logging.Abstractions;

namespace Cardassay.Collector.Tests.Notices;

/// <summary>A real HTTP server on this machine receives what is sent.</summary>
public sealed class WebhookTests : IAsyncDisposable
{
    private static readonly byte[] Secret = Encoding.ASCII.GetBytes("a secret of the test");
    private static readonly DateTimeOffset Now = new(2031, 3, 14, 6, 30, 0, TimeSpan.Zero);
    private readonly List<(Dictionary<string, string> Headers, byte[] Body)> _received = [];
    private readonly Queue<int> _answers = new();
    private readonly string _folder = Directory.CreateTempSubdirectory("cardassay-webhook-").FullName;
    private readonly WebApplication _server;

    public WebhookTests()
    {
        WebApplicationBuilder builder = WebApplication.CreateSlimBuilder();
        builder.Logging.ClearProviders();
        builder.WebHost.ConfigureKestrel(k => k.Listen(IPAddress.Loopback, 0));
        _server = builder.Build();
        _server.MapPost("/hook/with-a-token", async (HttpContext context) =>
        {
            using var body = new MemoryStream();
            await context.Request.Body.CopyToAsync(body);
            lock (_received)
            {
                _received.Add((context.Request.Headers.ToDictionary(h => h.Key, h => h.Value.ToString()), body.ToArray()));
                context.Response.StatusCode = _answers.TryDequeue(out int answer) ? answer : 204;
            }
        });
        _server.Start();
    }

    private WebhookSettings Settings => new(new Uri(_server.Urls.First() + "/hook/with-a-token"), Secret, TimeSpan.FromSeconds(20));

    [Fact]
    public async Task SendAsync_Message_ArrivesSignedWithItsKey()
    {
        using var channel = new WebhookChannel(Settings, new SetClock(Now));
        Assert.True((await channel.SendAsync(Message("finished-1"), CancellationToken.None)).Delivered);
        (Dictionary<string, string> headers, byte[] body) = Assert.Single(_received);
        Assert.Equal("finished-1", headers["Idempotency-Key"]);
        Assert.Equal("1931236200", headers["Cardassay-Time"]); // date -u -d '2031-03-14 06:30' +%s

        // The signature as a receiver would compute it, from the bytes that arrived.
        using var hmac = new HMACSHA256(Secret);
        byte[] expected = hmac.ComputeHash([.. Encoding.ASCII.GetBytes(headers["Cardassay-Time"] + "\n"), .. body]);
        Assert.Equal("sha256=" + Convert.ToHexString(expected).ToLowerInvariant(), headers["Cardassay-Signature"]);
        JsonElement json = JsonDocument.Parse(body).RootElement;
        Assert.Equal("finished", json.GetProperty("kind").GetString());
        Assert.Equal("2031-03-14T06:30:00Z", json.GetProperty("at").GetString());
        Assert.Equal("\"quoted\" title", json.GetProperty("title").GetString());
    }

    [Fact]
    public async Task SendAsync_MorningReport_IsSignedJsonOfTheFirstPage()
    {
        var shelf = new MorningShelf(_folder);
        shelf.Put("morning-2031-03-13", SampleMorning.Report);
        using var channel = new WebhookChannel(Settings, new SetClock(Now), shelf);
        var notice = new Notice(NoticeKind.Morning, "morning-2031-03-13", "t", "text", Now) { Night = "2031-03-13" };
        Assert.True((await channel.SendAsync(notice, CancellationToken.None)).Delivered);
        (Dictionary<string, string> headers, byte[] body) = Assert.Single(_received);
        Assert.Equal("morning-2031-03-13", headers["Idempotency-Key"]);
        Assert.Equal("sha256=" + Convert.ToHexStringLower(HMACSHA256.HashData(Secret, (byte[])[.. Encoding.ASCII.GetBytes(headers["Cardassay-Time"] + "\n"), .. body])), headers["Cardassay-Signature"]);
        JsonElement json = JsonDocument.Parse(body).RootElement;
        Assert.Equal(("morning", "2031-03-13", true), (json.GetProperty("kind").GetString(), json.GetProperty("night").GetString(), json.GetProperty("invented").GetBoolean()));
        Assert.Equal((SampleMorning.Report.VerdictsNew, SampleMorning.Report.NeedsPerson), (json.GetProperty("verdictsNew").GetInt32(), json.GetProperty("needsPerson").GetInt32()));
        Assert.Equal(
            SampleMorning.Report.FirstPage.Select(p => $"{p.Key}|{p.Label}|{string.Join('|', p.Lines)}"),
            json.GetProperty("firstPage").EnumerateArray().Select(p => $"{p.GetProperty("key")}|{p.GetProperty("label")}|{string.Join('|', p.GetProperty("lines").EnumerateArray())}"));
        Assert.False((await channel.SendAsync(notice with { Key = "gone" }, CancellationToken.None)).TryAgain);
        Assert.Single(_received);
    }

    [Fact]
    public void Sign_KnownKeyAndText_IsTheHmacOfRfc2104()
    {
        // Recomputed with: printf '1931236200\n{}' | openssl dgst -sha256 -hmac 'a secret of the test'
        Assert.Equal("a0fce997adc79865904d79221b7f774a7d548748768622a40e91c7fcd2215814", WebhookChannel.Sign(Secret, "1931236200", "{}"u8.ToArray()));
    }

    [Fact]
    public async Task PumpAsync_ServerThatFailsTwice_IsTriedAgainLaterWithTheSameKeyUntilItTakesTheMessage()
    {
        _answers.Enqueue(503);
        _answers.Enqueue(429);
        using var channel = new WebhookChannel(Settings, new SetClock(Now));
        var log = new ListLogger();
        NoticeOutbox outbox = Outbox([channel], log);
        Assert.True(outbox.Add(Message("stalled-1")));
        Assert.False(outbox.Add(Message("stalled-1")));
        await outbox.PumpAsync(Now, CancellationToken.None);
        await outbox.PumpAsync(Now.AddSeconds(3), CancellationToken.None); // before the wait is over
        Assert.Single(_received);
        await outbox.PumpAsync(Now.AddSeconds(7), CancellationToken.None);

        // A restart forgets nothing: the second outbox reads what the first wrote down.
        NoticeOutbox later = Outbox([channel], log);
        Assert.Single(later.State.Pending);
        await later.PumpAsync(Now.AddMinutes(1), CancellationToken.None);
        Assert.Empty(later.State.Pending);
        Assert.Equal(["stalled-1", "stalled-1", "stalled-1"], _received.Select(r => r.Headers["Idempotency-Key"]));
        Assert.False(Outbox([channel], log).Add(Message("stalled-1")));
        Assert.Equal(2, log.Lines.Count);
        Assert.DoesNotContain(log.Lines, l => l.Contains("token", StringComparison.Ordinal) || l.Contains("a secret", StringComparison.Ordinal));
    }

    [Fact]
    public async Task PumpAsync_ServerThatRefusesForGood_IsGivenUpAndSaidSo()
    {
        _answers.Enqueue(403);
        using var channel = new WebhookChannel(Settings, new SetClock(Now));
        var log = new ListLogger();
        NoticeOutbox outbox = Outbox([channel], log);
        outbox.Add(Message("finished-1"));
        await outbox.PumpAsync(Now, CancellationToken.None);
        await outbox.PumpAsync(Now.AddHours(1), CancellationToken.None);
        Assert.Single(_received);
        Assert.Contains("403", Assert.Single(log.Lines), StringComparison.Ordinal);
    }

    [Fact]
    public async Task SendAsync_RedirectAndNobodyThere_AreNotFollowedAndNotFatal()
    {
        _answers.Enqueue(307);
        using var channel = new WebhookChannel(Settings, new SetClock(Now));
        SendOutcome redirected = await channel.SendAsync(Message("a"), CancellationToken.None);
        Assert.Equal((false, false), (redirected.Delivered, redirected.TryAgain));
        await _server.StopAsync();
        SendOutcome away = await channel.SendAsync(Message("a"), CancellationToken.None);
        Assert.Equal((false, true), (away.Delivered, away.TryAgain));
        Assert.DoesNotContain("token", away.Problem, StringComparison.Ordinal);
    }

    [Fact]
    public void Delay_Attempts_GrowFourfoldUpToHalfAnHourWithinAFifth()
    {
        double[] expected = [5, 20, 80, 320, 1280, 1800, 1800];
        for (int seed = 0; seed < 50; seed++)
        {
            var random = new Random(seed);
            for (int i = 0; i < expected.Length; i++)
            {
                double seconds = NoticeOutbox.Delay(i + 1, random).TotalSeconds;
                Assert.InRange(seconds, expected[i] * 0.8, expected[i] * 1.2);
            }
        }
    }

    public async ValueTask DisposeAsync()
    {
        await _server.DisposeAsync();
        Directory.Delete(_folder, recursive: true);
    }

    private NoticeOutbox Outbox(IReadOnlyList<INoticeChannel> channels, ILogger? logger = null) =>
        new(channels, Path.Combine(_folder, NoticeState.Name), new Random(1), logger ?? NullLogger.Instance);

    private static Notice Message(string key) => new(NoticeKind.Finished, key, "\"quoted\" title", "Text.", Now);
}

/// <summary>Keeps what was logged.</summary>
internal sealed class ListLogger : ILogger
{
    internal List<string> Lines { get; } = [];

    public IDisposable? BeginScope<TState>(TState state)
        where TState : notnull => null;

    public bool IsEnabled(LogLevel logLevel) => true;

    public void Log<TState>(LogLevel logLevel, EventId eventId, TState state, Exception? exception, Func<TState, Exception?, string> formatter) =>
        Lines.Add(formatter(state, exception));
}
