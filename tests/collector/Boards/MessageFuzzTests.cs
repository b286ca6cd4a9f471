using System.Buffers.Binary;
using System.Net;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Tests.Intake;
using Cardassay.Trust;
using Google.Protobuf;
using Grpc.Core;
using Microsoft.Extensions.DependencyInjection;

namespace Cardassay.Collector.Tests.Boards;

/// <summary>
/// Messages a member should never send: malformed, oversized, endless. 2,000 by default; CARDASSAY_FULL=1 makes it 1,000,000. The seed is
/// in the failure message.
/// </summary>
public sealed class MessageFuzzTests : IAsyncLifetime
{
    private const int Seed = 20_260;

    /// <summary>UNKNOWN, how gRPC answers when a message cannot be parsed, or after an exception nobody foresaw.</summary>
    private const string Unknown = "2";

    private CollectorFixture _collector = null!;

    public async Task InitializeAsync() => _collector = await CollectorFixture.StartAsync();

    public async Task DisposeAsync() => await _collector.DisposeAsync();

    [Fact]
    public async Task AnyBytes_AsAnyCall_AreAnsweredAndStoreNothing()
    {
        int rounds = Environment.GetEnvironmentVariable("CARDASSAY_FULL") == "1" ? 1_000_000 : 2_000;
        using TestMember member = await TestMember.JoinAsync(await _collector.InviteAsync());
        using var http = Http(member);
        var random = new Random(Seed);
        string[] methods = ["BoardDesk/Check", "Delivery/Deliver", "Enrolment/Renew", "Enrolment/Leave", "Enrolment/Enrol", "Enrolment/GetAuthority"];
        var answers = new Dictionary<string, int>(StringComparer.Ordinal);
        for (int done = 0; done < rounds;)
        {
            // Several at once on one connection, as many as it takes streams.
            int batch = Math.Min(16, rounds - done);
            (string Method, byte[] Body)[] sent = [.. Enumerable.Range(0, batch).Select(_ => (methods[random.Next(methods.Length)], Frame(Message(random), random)))];
            // A thousand boards' worth of calls comes from one: its limit is not what is tested here.
            _collector.Host.Services.GetRequiredService<CallLimits>().Forget();
            foreach ((string status, int i) in await Task.WhenAll(sent.Select((s, i) => SendAsync(http, s.Method, s.Body, i))))
            {
                Assert.True(status.Length > 0, $"seed {Seed}, message {done + i} to {sent[i].Method} got no answer");
                Assert.False(status == Unknown && Parses(sent[i].Method, sent[i].Body), $"seed {Seed}, message {done + i} to {sent[i].Method} ended in an exception nobody foresaw");
                answers[status] = answers.GetValueOrDefault(status) + 1;
            }

            done += batch;
        }

        // Messages came as far as the services, and as far as the parser only.
        Assert.True(answers.GetValueOrDefault(Unknown) > 0 && answers.Count > 2, $"seed {Seed}: {string.Join(", ", answers)}");
        V1.CollectorStatus status2 = await _collector.StatusAsync();
        Assert.Equal((0ul, 0ul, 0ul), (status2.RecordsReceived, status2.Gaps, status2.Conflicts));
        await member.Desk.CheckAsync(new V1.Presence { Board = "bench" });
    }

    [Fact]
    public async Task Oversized_Message_IsRefusedAndNothingStored()
    {
        using TestMember member = await TestMember.JoinAsync(await _collector.InviteAsync());
        RpcException e = await Assert.ThrowsAsync<RpcException>(async () =>
            await member.Desk.CheckAsync(new V1.Presence { Board = "bench", AgentVersion = new string('x', 3 << 20) }));
        Assert.Equal(StatusCode.ResourceExhausted, e.StatusCode);

        byte[] epoch = TestBoard.NewEpoch();
        using (var board = new TestBoard(member.Delivery))
        {
            await board.GreetAsync(epoch, 1, 1);
            await board.NextAsync();
            await Assert.ThrowsAsync<RpcException>(async () =>
            {
                await board.SendAsync(TestBoard.Record(epoch, 1, new byte[3 << 20]));
                while (await board.NextAsync() is not null)
                {
                }
            });
        }

        using (var board = new TestBoard(member.Delivery))
        {
            await board.GreetAsync(epoch, 1, 1);
            await board.NextAsync();
            await board.SendAsync([.. Enumerable.Range(1, 257).Select(i => TestBoard.Record(epoch, (ulong)i, [1]))]);
            Assert.Equal(V1.Refusal.Types.Reason.BadMessage, (await board.NextAsync())!.Refusal.Reason);
        }

        Assert.Equal(0ul, (await _collector.StatusAsync()).RecordsReceived);
    }

    [Fact]
    public async Task Presence_WithTooMuchInIt_NamesTheField()
    {
        using TestMember member = await TestMember.JoinAsync(await _collector.InviteAsync());
        (V1.Presence Presence, string Field)[] cases =
        [
            (new V1.Presence { Board = "bench", AgentVersion = new string('x', 300) }, "agent_version"),
            (new V1.Presence { Board = "bench", BootId = ByteString.CopyFrom(new byte[17]) }, "boot_id"),
            (new V1.Presence { Board = "bench", Slots = { Enumerable.Repeat(new V1.Slot(), 65) } }, "slots"),
            (new V1.Presence { Board = "bench", Finished = { Enumerable.Repeat(new V1.FinishedDuty(), 1_001) } }, "finished"),
            (new V1.Presence { Board = "bench", Finished = { new V1.FinishedDuty { Text = new string('x', 5_000) } } }, "finished.text"),
        ];
        foreach ((V1.Presence presence, string field) in cases)
        {
            RpcException e = await Assert.ThrowsAsync<RpcException>(async () => await member.Desk.CheckAsync(presence));
            Assert.Equal(StatusCode.InvalidArgument, e.StatusCode);
            Assert.Contains(field, e.Status.Detail, StringComparison.Ordinal);
        }
    }

    [Fact]
    public async Task Stream_ThatNeverStopsTalkingWithoutARecord_IsEnded()
    {
        using TestMember member = await TestMember.JoinAsync(await _collector.InviteAsync());
        using var board = new TestBoard(member.Delivery);
        await board.GreetAsync(TestBoard.NewEpoch(), 1, 1);
        await board.NextAsync();
        Task<V1.FromCollector?> answer = board.NextAsync(TimeSpan.FromSeconds(120));
        try
        {
            for (int i = 0; i < 100_000 && !answer.IsCompleted; i++)
            {
                await board.SendAsync(new V1.FromBoard { Heartbeat = new V1.Heartbeat() });
            }
        }
        catch (Exception e) when (e is RpcException or InvalidOperationException)
        {
            // The collector hung up.
        }

        Assert.Equal(V1.Refusal.Types.Reason.BadMessage, (await answer)!.Refusal.Reason);
    }

    [Fact]
    public async Task Stream_WithASecondGreeting_IsEnded()
    {
        using var board = new TestBoard(_collector);
        await board.GreetAsync(TestBoard.NewEpoch(), 1, 1);
        await board.NextAsync();
        await board.GreetAsync(TestBoard.NewEpoch(), 1, 1, name: "another");
        Assert.Equal(V1.Refusal.Types.Reason.BadMessage, (await board.NextAsync())!.Refusal.Reason);
    }

    private static HttpClient Http(TestMember member) => new(member.Handler, disposeHandler: false)
    {
        DefaultRequestVersion = HttpVersion.Version20,
        DefaultVersionPolicy = HttpVersionPolicy.RequestVersionExact,
        Timeout = TimeSpan.FromSeconds(60),
    };

    /// <summary>A valid message with damage, or none that ever was one.</summary>
    private static byte[] Message(Random random)
    {
        byte[] valid = random.Next(3) switch
        {
            0 => new V1.FromBoard { Greeting = new V1.Greeting { BoardName = "somebody", ProtocolLowest = 1, ProtocolHighest = 1, Epochs = { new V1.EpochSpan { Epoch = ByteString.CopyFrom(new byte[16]) } } } }.ToByteArray(),
            1 => new V1.Presence { Board = "somebody", Slots = { new V1.Slot { DiskName = "mmcblk0" } }, BoardModel = "model" }.ToByteArray(),
            _ => new V1.EnrolRequest { Code = ByteString.CopyFrom(new byte[16]), SigningRequest = ByteString.CopyFrom(new byte[40]) }.ToByteArray(),
        };
        if (random.Next(4) == 0)
        {
            valid = new byte[random.Next(300)];
            random.NextBytes(valid);
        }

        for (int k = random.Next(6); k > 0 && valid.Length > 0; k--)
        {
            valid[random.Next(valid.Length)] = (byte)random.Next(256);
        }

        return valid[..random.Next(valid.Length + 1)];
    }

    /// <summary>The five bytes before a message in HTTP/2 (compressed flag, length big-endian; the gRPC protocol's "Length-Prefixed-Message"), now and then a lie.</summary>
    private static byte[] Frame(byte[] message, Random random)
    {
        byte[] frame = new byte[5 + message.Length];
        message.CopyTo(frame, 5);
        frame[0] = (byte)(random.Next(50) == 0 ? random.Next(256) : 0);
        BinaryPrimitives.WriteUInt32BigEndian(frame.AsSpan(1), random.Next(20) == 0 ? (uint)random.Next() : (uint)message.Length);
        return frame;
    }

    private static async Task<(string Status, int Index)> SendAsync(HttpClient http, string method, byte[] body, int index)
    {
        using var request = new HttpRequestMessage(HttpMethod.Post, $"https://{AuthorityTrust.CollectorName}/cardassay.v1.{method}")
        {
            Version = HttpVersion.Version20, // a message of its own does not take the client's default
            VersionPolicy = HttpVersionPolicy.RequestVersionExact,
            Content = new ByteArrayContent(body),
        };
        request.Content.Headers.ContentType = new("application/grpc");
        request.Headers.TE.Add(new("trailers"));
        HttpResponseMessage response;
        try
        {
            response = await http.SendAsync(request);
            await response.Content.ReadAsByteArrayAsync();
        }
        catch (HttpRequestException)
        {
            return ("reset", index); // a stream the collector ended before it had read everything
        }

        using HttpResponseMessage _ = response;
        string status = response.TrailingHeaders.TryGetValues("grpc-status", out IEnumerable<string>? trailing) ? trailing.Single()
            : response.Headers.TryGetValues("grpc-status", out IEnumerable<string>? heading) ? heading.Single() : "";
        return (status, index);
    }

    /// <summary>True for a frame that holds exactly one message the method's parser takes.</summary>
    private static bool Parses(string method, byte[] frame)
    {
        if (frame[0] != 0 || BinaryPrimitives.ReadUInt32BigEndian(frame.AsSpan(1)) != frame.Length - 5)
        {
            return false;
        }

        MessageParser parser = method switch
        {
            "BoardDesk/Check" => V1.Presence.Parser,
            "Delivery/Deliver" => V1.FromBoard.Parser,
            "Enrolment/Renew" => V1.RenewRequest.Parser,
            "Enrolment/Leave" => V1.LeaveRequest.Parser,
            "Enrolment/Enrol" => V1.EnrolRequest.Parser,
            _ => V1.GetAuthorityRequest.Parser,
        };
        try
        {
            parser.ParseFrom(frame, 5, frame.Length - 5);
            return true;
        }
        catch (InvalidProtocolBufferException)
        {
            return false;
        }
    }
}
