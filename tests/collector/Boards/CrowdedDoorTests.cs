using System.Diagnostics;
using System.Net;
using System.Net.Security;
using System.Net.Sockets;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Tests.Intake;
using Cardassay.Trust;
using Microsoft.AspNetCore.Connections;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Logging.Abstractions;
using Xunit.Abstractions;

namespace Cardassay.Collector.Tests.Boards;

/// <summary>A crowd of strangers at the boards' door: boards that joined get in and deliver, and a person is told.</summary>
public sealed class CrowdedDoorTests(ITestOutputHelper output) : IAsyncLifetime
{
    private const int Strangers = 1_500;
    private const int Boards = 10;

    /// <summary>What every board must have its receipt within; ten times as wide where the machine does other things.</summary>
    private static readonly TimeSpan Within = TimeSpan.FromSeconds(Environment.GetEnvironmentVariable("CARDASSAY_FULL") == "1" ? 5 : 50);

    private readonly List<Stream> _crowd = [];
    private CollectorFixture _collector = null!;

    public async Task InitializeAsync() => _collector = await CollectorFixture.StartAsync(withPage: true);

    public async Task DisposeAsync()
    {
        _crowd.ForEach(s => s.Dispose());
        await _collector.DisposeAsync();
    }

    [Theory]
    [InlineData(true)]
    [InlineData(false)] // they connect and say nothing
    public async Task Boards_AmongAnIdleCrowd_HaveTheirReceiptsAndAPersonIsTold(bool handshake)
    {
        TestMember[] joined = [.. await Task.WhenAll(Enumerable.Range(0, Boards).Select(async i => await TestMember.JoinAsync(await _collector.InviteAsync($"bench-{i}"))))];
        await GatherAsync(Strangers, handshake);
        DoorState full = Door.State();
        output.WriteLine($"{Strangers} strangers ({(handshake ? "after their handshake" : "silent")}): {full.Arriving} arriving, {full.Strangers} inside, {full.TurnedAway} turned away");
        Assert.True(full.Strangers <= DoorLimits.Of(DoorPlace.Stranger).OfOne && full.Arriving <= DoorLimits.Of(DoorPlace.Arriving).OfOne, full.ToString());
        Assert.NotNull(full.FullSince);

        // The crowd goes on while the boards come.
        using var enough = new CancellationTokenSource();
        Task pressing = PressAsync(handshake, enough.Token);
        TimeSpan[] took;
        try
        {
            took = await Task.WhenAll(joined.Select((member, i) => DeliverAsync(member, $"bench-{i}")));
        }
        finally
        {
            await enough.CancelAsync();
            await pressing;
        }

        output.WriteLine($"ten boards to their receipts: {took.Min().TotalSeconds:0.00} to {took.Max().TotalSeconds:0.00} s");
        Assert.All(took, t => Assert.True(t < Within, $"{t}"));

        V1.CollectorStatus status = await _collector.StatusAsync();
        Assert.Equal((ulong)Boards, status.RecordsReceived);
        Assert.True(status.Ready);
        Assert.Contains(status.Health, line => line.StartsWith("door: The door for callers without a board's certificate has been full since ", StringComparison.Ordinal));
        Assert.Contains(status.NeedsPerson, line => line.Contains("firewall", StringComparison.Ordinal) && line.Contains("127.0.0.1", StringComparison.Ordinal));
        using var http = new HttpClient();
        Assert.Contains("ready, with a warning", await http.GetStringAsync($"http://{_collector.Page}/health/ready"), StringComparison.Ordinal);
        string place = handshake ? "stranger" : "arriving";
        Assert.Matches($"cardassay_door_turned_away_total\\{{[^}}]*place=\"{place}\"[^}}]*\\}} [1-9]", await http.GetStringAsync($"http://{_collector.Page}/metrics"));
        Array.ForEach(joined, m => m.Dispose());
    }

    [Fact]
    public async Task Finding_AfterTheCrowdLeft_IsInTheReport()
    {
        await GatherAsync(DoorLimits.Of(DoorPlace.Stranger).OfOne + 20, handshake: true);
        await WaitAsync(() => Door.TurnedAway()[DoorPlace.Stranger] >= 20); // the collector counts a while after the handshake is over here
        _collector.Time.Shift += TimeSpan.FromMinutes(2);
        await Door.LookAsync();
        Assert.Null(Door.State().FullSince);
        Assert.DoesNotContain((await _collector.StatusAsync()).NeedsPerson, line => line.Contains("firewall", StringComparison.Ordinal));
        string report = await _collector.AskAsync(async o =>
        {
            using Grpc.Core.AsyncServerStreamingCall<V1.ReportPart> call = o.RenderReport(new V1.ReportRequest { Format = "json", Profile = "system-disk" });
            var text = new System.Text.StringBuilder();
            while (await call.ResponseStream.MoveNext(CancellationToken.None))
            {
                text.Append(call.ResponseStream.Current.Utf8.ToStringUtf8());
            }

            return text.ToString();
        });
        Assert.Contains("The door was full since ", report, StringComparison.Ordinal);
    }

    [Fact]
    public void TakeOverdue_StrangersBeyondTheirTime_GoAndBoardsStay()
    {
        var old = new DoorVisit(new DefaultConnectionContext(), "a") { Caller = "a" };
        var young = new DoorVisit(new DefaultConnectionContext(), "a") { Caller = "a" };
        TimeSpan Age(DoorVisit visit) => TimeSpan.FromSeconds(ReferenceEquals(visit, old) ? 31 : 29);
        foreach (DoorPlace place in Enum.GetValues<DoorPlace>())
        {
            var queue = new DoorQueue(DoorLimits.Of(place));
            queue.Add(old);
            queue.Add(young);
            Assert.Equal(place switch { DoorPlace.Arriving => [old, young], DoorPlace.Stranger => [old], _ => [] }, queue.TakeOverdue(Age));
        }
    }

    [Fact]
    public async Task Arrive_WhoeverHasMost_MakesRoomAndOthersStay()
    {
        using var door = new Doorkeeper(new TrustBook([]), TimeProvider.System, _ => Task.CompletedTask, NullLogger<Doorkeeper>.Instance);
        var stay = new TaskCompletionSource();
        DefaultConnectionContext Come(string address)
        {
            var connection = new DefaultConnectionContext { RemoteEndPoint = new IPEndPoint(IPAddress.Parse(address), 1) };
            _ = door.ArriveAsync(connection, () => stay.Task);
            return connection;
        }

        DefaultConnectionContext quiet = Come("192.0.2.9");
        DefaultConnectionContext first = Come("192.0.2.1");
        for (int i = 1; i < DoorLimits.Of(DoorPlace.Arriving).OfOne; i++)
        {
            Come("192.0.2.1");
        }

        Assert.False(first.ConnectionClosed.IsCancellationRequested);
        Come("192.0.2.1");
        await WaitAsync(() => first.ConnectionClosed.IsCancellationRequested);
        for (int i = 0; i < 2_000; i++)
        {
            Come($"2001:db8:0:{i % 30:x}::{i:x}"); // thirty networks
        }

        DoorState state = door.State();
        Assert.Equal(DoorLimits.Of(DoorPlace.Arriving).InAll, state.Arriving);
        Assert.False(quiet.ConnectionClosed.IsCancellationRequested);
        stay.SetResult();
        await WaitAsync(() => door.State().Arriving == 0);
    }

    private Doorkeeper Door => _collector.Host.Services.GetRequiredService<Doorkeeper>();

    private async Task GatherAsync(int count, bool handshake)
    {
        foreach (int[] part in Enumerable.Range(0, count).Chunk(50))
        {
            _crowd.AddRange((await Task.WhenAll(part.Select(_ => KnockAsync(handshake)))).OfType<Stream>());
        }
    }

    /// <summary>Ever new ones, of which the oldest leave: a process may have 20,000 files open, and a quick machine makes as many in two seconds.</summary>
    private async Task PressAsync(bool handshake, CancellationToken cancellationToken)
    {
        var pressing = new Queue<Stream>();
        while (!cancellationToken.IsCancellationRequested)
        {
            foreach (Stream stream in (await Task.WhenAll(Enumerable.Range(0, 20).Select(_ => KnockAsync(handshake)))).OfType<Stream>())
            {
                pressing.Enqueue(stream);
            }

            while (pressing.Count > Strangers)
            {
                await pressing.Dequeue().DisposeAsync();
            }
        }

        lock (_crowd)
        {
            _crowd.AddRange(pressing);
        }
    }

    /// <summary>A stranger's connection, or null where it was turned away in its handshake.</summary>
    private async Task<Stream?> KnockAsync(bool handshake)
    {
        var socket = new Socket(SocketType.Stream, ProtocolType.Tcp);
        try
        {
            await socket.ConnectAsync(new DnsEndPoint(_collector.Address.Host, _collector.Address.Port));
            var stream = new NetworkStream(socket, ownsSocket: true);
            if (!handshake)
            {
                return stream;
            }

            var tls = new SslStream(stream, leaveInnerStreamOpen: false, (_, _, _, _) => true);
            await tls.AuthenticateAsClientAsync(new SslClientAuthenticationOptions { TargetHost = AuthorityTrust.CollectorName, ApplicationProtocols = [SslApplicationProtocol.Http2] });
            return tls;
        }
        catch (Exception e) when (e is IOException or SocketException or System.Security.Authentication.AuthenticationException)
        {
            socket.Dispose();
            return null;
        }
    }

    /// <summary>A board that comes back: a connection of its own, a greeting, one record, its receipt.</summary>
    private async Task<TimeSpan> DeliverAsync(TestMember joined, string name)
    {
        long begun = Stopwatch.GetTimestamp();
        for (int attempt = 0; ; attempt++)
        {
            using var member = new TestMember(joined.Address, new System.Security.Cryptography.X509Certificates.X509Certificate2(joined.Certificate!));
            try
            {
                byte[] epoch = TestBoard.NewEpoch();
                using var board = new TestBoard(member.Delivery);
                await board.GreetAsync(epoch, 1, 1, name);
                Assert.NotNull((await board.NextAsync(Within))!.Welcome);
                await board.SendAsync(TestBoard.Record(epoch, 1, [(byte)attempt, 7]));
                await board.ReceiptAsync(1);
                return Stopwatch.GetElapsedTime(begun);
            }
            catch (Exception e) when (e is Grpc.Core.RpcException or HttpRequestException or IOException && Stopwatch.GetElapsedTime(begun) < Within)
            {
                await Task.Delay(500); // as an agent does: turned away in its handshake, it comes again
            }
        }
    }

    private static async Task WaitAsync(Func<bool> until)
    {
        for (int i = 0; i < 400 && !until(); i++)
        {
            await Task.Delay(50);
        }

        Assert.True(until());
    }
}
