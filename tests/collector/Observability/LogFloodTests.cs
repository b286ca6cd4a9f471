using System.Buffers.Binary;
using System.Diagnostics;
using System.Globalization;
using System.Net;
using System.Net.Sockets;
using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;
using System.Text;
using System.Text.Json;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Observability;
using Cardassay.Collector.Tests.Boards;
using Cardassay.Collector.Tests.Intake;
using Cardassay.Trust;
using Google.Protobuf;
using Grpc.Core;
using Microsoft.Extensions.DependencyInjection;
using Xunit.Abstractions;

namespace Cardassay.Collector.Tests.Observability;

/// <summary>
/// Members and strangers who make the collector write log lines without rest. What they sent is in the log either as a line or in a count
/// of lines held back, and the log's size depends on how long they went on, not on how much they sent.
/// </summary>
public sealed class LogFloodTests(ITestOutputHelper output) : IAsyncLifetime
{
    /// <summary>Most that one caller brings into the log in a minute with one kind of flood, bytes.</summary>
    private const int BytesPerMinute = 64 * 1024;

    private readonly StringWriter _log = new(CultureInfo.InvariantCulture);
    private readonly long _began = Stopwatch.GetTimestamp();
    private CollectorFixture _collector = null!;

    /// <summary>A minute's count may begin and end within the test.</summary>
    private int Minutes => (int)Stopwatch.GetElapsedTime(_began).TotalMinutes + 2;

    public async Task InitializeAsync() => _collector = await CollectorFixture.StartAsync(log: _log);

    public async Task DisposeAsync() => await _collector.DisposeAsync();

    [Theory]
    [InlineData("BoardDesk/Check", true)]
    [InlineData("Delivery/Deliver", true)]
    [InlineData("Delivery/Deliver", false)]
    [InlineData("Enrolment/Enrol", false)]
    public async Task Message_ThatIsNone_MakesOneLineThatNamesItsSender(string method, bool isMember)
    {
        const int sent = 2_000;
        using TestMember caller = isMember ? await TestMember.JoinAsync(await _collector.InviteAsync("bench-7")) : new TestMember(_collector.Address, null);
        bool isRefusedFirst = method == "Delivery/Deliver" && !isMember; // of a stream the caller is looked at before its first message
        await SendAsync(caller, method, [0x0f, 0xff, 0xff], sent);
        IReadOnlyList<Line> lines = await EndAsync(isRefusedFirst ? EventNumbers.Refused : EventNumbers.MessageUnreadable, sent, isRefusedFirst ? EventNumbers.RefusalsNotWritten : null);
        if (!isRefusedFirst)
        {
            Assert.All(lines, l => Assert.StartsWith(isMember ? "board bench-7 at 127.0.0.1" : "127.0.0.1", l.Property("Caller"), StringComparison.Ordinal));
            Assert.All(lines, l => Assert.Equal($"/cardassay.v1.{method}", l.Property("Method")));
        }
    }

    [Fact]
    public async Task Message_LongerThanAllowed_MakesOneLine()
    {
        using TestMember member = await TestMember.JoinAsync(await _collector.InviteAsync());
        byte[] body = new byte[5];
        BinaryPrimitives.WriteUInt32BigEndian(body.AsSpan(1), int.MaxValue);
        await SendFramesAsync(member, "BoardDesk/Check", body, 1_000);
        await EndAsync(EventNumbers.MessageUnreadable, 1_000);
    }

    [Fact]
    public async Task Stream_BrokenByItsMember_TellsItAndMakesOneLine()
    {
        using TestMember member = await TestMember.JoinAsync(await _collector.InviteAsync());
        byte[] greeting = Framed(new V1.FromBoard
        {
            Greeting = new V1.Greeting
            {
                BoardName = "bench", ProtocolLowest = 1, ProtocolHighest = 1,
                Epochs = { new V1.EpochSpan { Epoch = ByteString.CopyFrom(TestBoard.NewEpoch()), FirstSequence = 1, LastSequence = 1 } },
            },
        }.ToByteArray());
        string[] statuses = await SendFramesAsync(member, "Delivery/Deliver", [.. greeting, .. Framed([0x0f, 0xff])], 300, atOnce: 1); // a second stream of one journal replaces the first
        string[] other = [.. statuses.Where(s => s != ((int)StatusCode.InvalidArgument).ToString(CultureInfo.InvariantCulture)).Distinct()];
        Assert.True(other.Length == 0, $"status {string.Join(", ", other)}");
        await EndAsync(EventNumbers.MessageUnreadable, 300);
    }

    [Fact]
    public async Task Call_OfAStranger_IsRefusedWithBoundedLines()
    {
        using var stranger = new TestMember(_collector.Address, null);
        const int sent = 3_000;
        await SendAsync(stranger, "BoardDesk/Check", [], sent);
        await EndAsync(EventNumbers.Refused, sent, EventNumbers.RefusalsNotWritten);
    }

    [Fact]
    public async Task Connections_OfRubbish_AreBounded()
    {
        IPEndPoint boards = IPEndPoint.Parse(_collector.Host.Addresses.Boards!);
        IPEndPoint plain = IPEndPoint.Parse(_collector.Listen);
        byte[][] rubbish =
        [
            "GET / HTTP/1.1\r\nHost: localhost\r\n\r\n"u8.ToArray(),
            [0x16, 0x03, 0x01, 0x00, 0x05, 0x01, 0x00, 0x00, 0x01, 0x00], // a handshake record cut short
            [.. "PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n"u8, .. (byte[])[0xff, 0xff, 0xff, 0x07, 0x00, 0xff, 0xff, 0xff, 0xff]], // a preface and a frame longer than any may be
            RandomNumberGenerator.GetBytes(200),
            [],
        ];
        const int sent = 2_000;
        for (int i = 0; i < sent; i++)
        {
            using var socket = new Socket(SocketType.Stream, ProtocolType.Tcp);
            await socket.ConnectAsync(i % 2 == 0 ? boards : plain);
            await socket.SendAsync(rubbish[i / 2 % rubbish.Length]);
        }

        using Authority other = Authority.OpenOrMake(Path.Combine(_collector.Folder, "other", "authority.pem"), TimeProvider.System);
        using ECDsa key = ECDsa.Create(ECCurve.NamedCurves.nistP256);
        using X509Certificate2 forged = other.IssueBoard("bench", TestMember.SigningRequest(key), TimeProvider.System.GetUtcNow());
        for (int i = 0; i < 60; i++)
        {
            using var caller = new TestMember(_collector.Address, forged.CopyWithPrivateKey(key));
            await Assert.ThrowsAsync<RpcException>(() => caller.Desk.CheckAsync(new V1.Presence { Board = "bench" }).ResponseAsync);
        }

        int refused = (int)_collector.Refusals; // a client may try a handshake again
        Assert.True(refused >= 60, $"{refused} of 60 certificates that are not ours were refused");
        await EndAsync(EventNumbers.Refused, refused, EventNumbers.RefusalsNotWritten);
    }

    [Theory]
    [InlineData(EventNumbers.BoardGreeted)]
    [InlineData(EventNumbers.VersionRefused)]
    [InlineData(EventNumbers.ProtocolBroken)]
    [InlineData(EventNumbers.ClockApart)]
    public async Task Greetings_InALoop_AreBounded(int number)
    {
        const int sent = 400;
        byte[] epoch = TestBoard.NewEpoch();
        for (int i = 0; i < sent; i++)
        {
            using var board = new TestBoard(_collector);
            await board.GreetAsync(epoch, 1, 1, protocol: number == EventNumbers.VersionRefused ? 999u : 1u);
            await board.NextAsync();
            if (number == EventNumbers.ProtocolBroken)
            {
                await board.SendAsync(TestBoard.Record([1, 2, 3], 1, [1]));
                Assert.Equal(V1.Refusal.Types.Reason.BadMessage, (await board.NextAsync())!.Refusal.Reason);
            }

            await board.EndAsync();
        }

        await EndAsync(number, sent);
    }

    [Fact]
    public async Task Greeting_WithThousandsOfLostRecords_IsBounded()
    {
        const int sent = 2_000;
        using var board = new TestBoard(_collector);
        await board.SendAsync(new V1.FromBoard
        {
            Greeting = new V1.Greeting
            {
                BoardName = "bench", ProtocolLowest = 1, ProtocolHighest = 1,
                Epochs = { Enumerable.Range(0, sent).Select(_ => new V1.EpochSpan { Epoch = ByteString.CopyFrom(TestBoard.NewEpoch()), FirstSequence = 5, LastSequence = 9 }) },
            },
        });
        await board.NextAsync(TimeSpan.FromSeconds(60));
        await EndAsync(EventNumbers.RecordsMissing, sent);
    }

    [Theory]
    [InlineData(EventNumbers.AskedAgain)]
    [InlineData(EventNumbers.ContentsConflict)]
    public async Task Records_InTheWrongOrderOrWithTwoContents_AreBounded(int number)
    {
        const int sent = 300; // each conflict waits for its fsync
        byte[] epoch = TestBoard.NewEpoch();
        using var board = new TestBoard(_collector);
        await board.GreetAsync(epoch, 1, 9_999);
        await board.NextAsync();
        await board.SendAsync(TestBoard.Record(epoch, 1, [0]));
        await board.ReceiptAsync(1);
        Task reading = Task.Run(async () =>
        {
            for (int seen = 0; seen < sent;)
            {
                V1.FromCollector answer = (await board.NextAsync(TimeSpan.FromSeconds(60)))!;
                seen += number == EventNumbers.AskedAgain ? (answer.SendAgain is null ? 0 : 1) : (answer.Receipt is null ? 0 : 1);
            }
        });
        for (int i = 0; i < sent; i++)
        {
            await board.SendAsync(number == EventNumbers.AskedAgain
                ? TestBoard.Record(epoch, 5, [1])
                : TestBoard.Record(epoch, 1, BitConverter.GetBytes(i + 1)));
        }

        await reading;
        await EndAsync(number, sent);
    }

    [Fact]
    public async Task Names_MadeUpWithoutEnd_AreBoundedTogether()
    {
        const int sent = 600;
        for (int i = 0; i < sent; i++)
        {
            using var board = new TestBoard(_collector);
            await board.GreetAsync(TestBoard.NewEpoch(), 1, 1, name: $"made-up-{i}", protocol: 999);
            await board.EndAsync();
        }

        await EndAsync(EventNumbers.VersionRefused, sent, atMost: BoundedSink.Together);
    }

    [Fact]
    public async Task Fault_OfOurOwn_KeepsItsStackTraceAndNamesTheCall()
    {
        Invitation invitation = await _collector.InviteAsync();
        using var stranger = new TestMember(_collector.Address, null);
        using ECDsa key = ECDsa.Create(ECCurve.NamedCurves.nistP256);
        _collector.Host.Services.GetRequiredService<EnrolmentGate>().Dispose(); // as good as any defect
        const int sent = 50;
        for (int i = 0; i < sent; i++)
        {
            RpcException e = await Assert.ThrowsAsync<RpcException>(() => stranger.Enrolment.EnrolAsync(TestMember.Request(invitation.Code, key)).ResponseAsync);
            Assert.Equal(StatusCode.Unknown, e.StatusCode);
        }

        IReadOnlyList<Line> lines = await EndAsync(EventNumbers.CallFailed, sent, atMost: BoundedSink.PerCaller / BoundedSink.TraceCost, hasTraces: true);
        Assert.All(lines, l => Assert.Equal("127.0.0.1", l.Property("Caller")));
        Assert.All(lines, l => Assert.Contains($"   at {typeof(EnrolmentGate).FullName}.{nameof(EnrolmentGate.EnterAsync)}", l.Property("@x"), StringComparison.Ordinal));
        Assert.DoesNotContain(Convert.ToHexStringLower(invitation.Code), _log.ToString(), StringComparison.OrdinalIgnoreCase);
        Assert.DoesNotContain(Convert.ToBase64String(invitation.Code), _log.ToString(), StringComparison.Ordinal);
    }

    private static byte[] Framed(byte[] message)
    {
        byte[] frame = new byte[5 + message.Length];
        BinaryPrimitives.WriteUInt32BigEndian(frame.AsSpan(1), (uint)message.Length);
        message.CopyTo(frame, 5);
        return frame;
    }

    private Task<string[]> SendAsync(TestMember caller, string method, byte[] message, int times) => SendFramesAsync(caller, method, Framed(message), times);

    /// <summary>Sends a body as the whole request of a call, again and again; the gRPC status of each.</summary>
    private async Task<string[]> SendFramesAsync(TestMember caller, string method, byte[] body, int times, int atOnce = 10)
    {
        using var http = new HttpClient(caller.Handler, disposeHandler: false) { Timeout = TimeSpan.FromSeconds(60) };
        var statuses = new List<string>();
        for (int done = 0; done < times; done += atOnce)
        {
            _collector.Host.Services.GetRequiredService<CallLimits>().Forget(); // how often one may call is not what is tested here
            statuses.AddRange(await Task.WhenAll(Enumerable.Range(0, atOnce).Select(async _ =>
            {
                using var request = new HttpRequestMessage(HttpMethod.Post, $"https://{AuthorityTrust.CollectorName}/cardassay.v1.{method}")
                {
                    Version = HttpVersion.Version20,
                    VersionPolicy = HttpVersionPolicy.RequestVersionExact,
                    Content = new ByteArrayContent(body),
                };
                request.Content.Headers.ContentType = new("application/grpc");
                request.Headers.TE.Add(new("trailers"));
                using HttpResponseMessage response = await http.SendAsync(request);
                await response.Content.ReadAsByteArrayAsync();
                return response.TrailingHeaders.TryGetValues("grpc-status", out IEnumerable<string>? trailing) ? trailing.Single()
                    : response.Headers.TryGetValues("grpc-status", out IEnumerable<string>? heading) ? heading.Single() : "";
            })));
        }

        return [.. statuses];
    }

    /// <summary>
    /// Stops the collector and looks at its log: everything sent is a line of the event or counted as held back, no more lines than allowed were
    /// written, and the whole log is small.
    /// </summary>
    private async Task<IReadOnlyList<Line>> EndAsync(int number, int sent, int? countedBy = null, int atMost = BoundedSink.PerCaller, bool hasTraces = false)
    {
        await _collector.StopAsync();
        string text = _log.ToString();
        await _collector.StartAgainAsync();
        Line[] all = [.. text.Split('\n', StringSplitOptions.RemoveEmptyEntries).Select(l => new Line(JsonDocument.Parse(l).RootElement))];
        Line[] written = [.. all.Where(l => l.Number == number)];
        long heldBack = all.Where(l => countedBy is null ? l.Number == EventNumbers.LinesHeldBack && l.Property("Event") == number.ToString(CultureInfo.InvariantCulture) : l.Number == countedBy)
            .Sum(l => long.Parse(l.Property("Count"), CultureInfo.InvariantCulture));
        int bytes = Encoding.UTF8.GetByteCount(text);
        output.WriteLine($"event {number}: {sent} sent, {written.Length} lines, {heldBack} counted; the log has {bytes} bytes");
        Assert.InRange(written.Length, 1, atMost * Minutes);
        Assert.Equal(sent, written.Length + heldBack);
        Assert.InRange(bytes, 1, BytesPerMinute * Minutes * Math.Max(1, atMost / BoundedSink.PerCaller));
        Assert.All(all, l => Assert.True(hasTraces || l.Property("@x").Length == 0, $"a stack trace: {l.Property("@x")}"));
        return written;
    }

    private sealed record Line(JsonElement Json)
    {
        internal int Number => Json.TryGetProperty("EventId", out JsonElement id) && id.TryGetProperty("Id", out JsonElement number) ? number.GetInt32() : 0;

        internal string Property(string name) => Json.TryGetProperty(name, out JsonElement value) ? value.ToString() : "";
    }
}
