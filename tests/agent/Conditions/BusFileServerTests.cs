using System.Diagnostics;
using System.Net.Sockets;
using System.Text;
using Cardassay.Agent.Conditions;
using Cardassay.Agent.Sysfs;
using Cardassay.Agent.Tests.Sysfs;
using Cardassay.Registers;

namespace Cardassay.Agent.Tests.Conditions;

/// <summary>The helper over a real Unix socket, with debugfs of a fixture.</summary>
public sealed class BusFileServerTests : IDisposable
{
    private readonly FixtureTree _board = FixtureTree.Expand("board-a-6.1-sdhc");
    private readonly string _agentRoot = Directory.CreateTempSubdirectory("cardassay-bus-").FullName;
    private readonly CancellationTokenSource _stop = new();
    private readonly Socket _listener = new(AddressFamily.Unix, SocketType.Stream, ProtocolType.Unspecified);
    private readonly Task _server;

    public BusFileServerTests()
    {
        // The agent's tree has no debugfs at all: what it learns, it learns from the helper.
        Directory.CreateDirectory(Path.GetDirectoryName(SocketFile)!);
        _listener.Bind(new UnixDomainSocketEndPoint(SocketFile));
        _listener.Listen();
        _server = new BusFileServer(_board.Tree, TimeSpan.FromMilliseconds(500)).RunAsync(_listener, null, _stop.Token);
    }

    private string SocketFile => Path.Combine(_agentRoot, HelperBusFiles.SocketPath);

    [Fact]
    public void Ask_KnownFiles_GivesTheirText()
    {
        var files = new HelperBusFiles(new SysfsTree(_agentRoot));
        Assert.Equal(TextFile.Read(_board.Tree, "sys/kernel/debug/mmc0/ios"), files.Ios("mmc0"));
        Assert.Equal(TextFile.Read(_board.Tree, "sys/kernel/debug/mmc0/err_stats"), files.ErrorStatistics("mmc0"));
        Assert.Equal("sd uhs SDR104", BusState.Parse(files.Ios("mmc0").Value!).Mode);
    }

    [Fact]
    public void Ask_HostThatIsNotThere_IsAbsent() => Assert.Equal(ReadingState.Absent, new HelperBusFiles(new SysfsTree(_agentRoot)).Ios("mmc9").State);

    [Theory]
    [InlineData("ios ../mmc0\n")]
    [InlineData("ios /etc/shadow\n")]
    [InlineData("ios mmc0/../../../../etc\n")]
    [InlineData("ext_csd mmc0\n")]
    [InlineData("status mmc0\n")]
    [InlineData("../ios mmc0\n")]
    [InlineData("ios mmc\n")]
    [InlineData("ios mmc0000\n")]
    [InlineData("ios mmc0 \n")]
    [InlineData("ios  mmc0\n")]
    [InlineData("IOS mmc0\n")]
    [InlineData("ios mmc\u0661\n")]
    [InlineData("ios mmc0\0\n")]
    [InlineData("\n")]
    [InlineData("ios mmc0 and a request that is much longer than it may be\n")]
    public void Ask_AnythingElse_IsRefused(string request) => Assert.StartsWith("refused\n", Raw(Encoding.UTF8.GetBytes(request)), StringComparison.Ordinal);

    [Fact]
    public void Ask_FarTooMuch_StillGetsTheRefusal()
    {
        for (int i = 0; i < 200; i++)
        {
            Assert.StartsWith("refused\n", Raw(new byte[4096]), StringComparison.Ordinal);
        }
    }

    [Fact]
    public void Ask_RandomBytes_NeverGivesAFile()
    {
        var random = new Random(20260301);
        for (int i = 0; i < 300; i++)
        {
            var request = new byte[random.Next(1, 40)];
            random.NextBytes(request);
            request[^1] = (byte)'\n';
            Assert.StartsWith("refused\n", Raw(request), StringComparison.Ordinal);
        }
    }

    [Fact]
    public void Ask_WhileAnotherSaysNothing_IsAnsweredAfterItsPatience()
    {
        using var silent = new Socket(AddressFamily.Unix, SocketType.Stream, ProtocolType.Unspecified);
        silent.Connect(new UnixDomainSocketEndPoint(SocketFile));
        Assert.StartsWith("known\n", Raw("ios mmc0\n"u8.ToArray()), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Run_NobodyAsks_EndsAfterTheIdleTime()
    {
        using var listener = new Socket(AddressFamily.Unix, SocketType.Stream, ProtocolType.Unspecified);
        listener.Bind(new UnixDomainSocketEndPoint(Path.Combine(_agentRoot, "idle.sock")));
        listener.Listen();
        await new BusFileServer(_board.Tree, TimeSpan.FromSeconds(1)).RunAsync(listener, TimeSpan.FromMilliseconds(50), CancellationToken.None)
            .WaitAsync(TimeSpan.FromSeconds(30));
    }

    [Fact]
    public void Ask_NoHelper_LeavesWhatTheAgentItselfSees()
    {
        string empty = Directory.CreateDirectory(Path.Combine(_agentRoot, "empty")).FullName;
        Assert.Equal(ReadingState.Absent, new HelperBusFiles(new SysfsTree(empty)).Ios("mmc0").State);
    }

    [Fact]
    public void Ask_SocketNobodyListensOn_IsUnreadableWithAReason()
    {
        string root = Path.Combine(_agentRoot, "dead");
        string path = Path.Combine(root, HelperBusFiles.SocketPath);
        Directory.CreateDirectory(Path.GetDirectoryName(path)!);
        using (var dead = new Socket(AddressFamily.Unix, SocketType.Stream, ProtocolType.Unspecified))
        {
            dead.Bind(new UnixDomainSocketEndPoint(path));
        }

        File.WriteAllText(path, "");
        Reading<string> reading = new HelperBusFiles(new SysfsTree(root)).Ios("mmc0");
        Assert.Equal(ReadingState.Unreadable, reading.State);
        Assert.Contains("helper for debugfs", reading.Reason, StringComparison.Ordinal);
    }

    /// <summary>The service manager holds the socket and starts the helper at the first question; on a slow board that takes seconds.</summary>
    [Fact]
    public async Task Ask_HelperThatIsStartedFirst_IsWaitedFor()
    {
        string root = Path.Combine(_agentRoot, "late");
        string path = Path.Combine(root, HelperBusFiles.SocketPath);
        Directory.CreateDirectory(Path.GetDirectoryName(path)!);
        using var listener = new Socket(AddressFamily.Unix, SocketType.Stream, ProtocolType.Unspecified);
        listener.Bind(new UnixDomainSocketEndPoint(path));
        listener.Listen();
        using var stop = new CancellationTokenSource();
        Task<Reading<string>> asking = Task.Run(() => new HelperBusFiles(new SysfsTree(root)).Ios("mmc0"));
        await Task.Delay(TimeSpan.FromSeconds(3));
        Task serving = new BusFileServer(_board.Tree, TimeSpan.FromSeconds(1)).RunAsync(listener, null, stop.Token);
        Assert.Equal("sd uhs SDR104", BusState.Parse((await asking).Value!).Mode);
        await stop.CancelAsync();
        await serving;
    }

    [Fact]
    public void Read_OwnDebugfs_IsPreferred()
    {
        var files = new HelperBusFiles(_board.Tree);
        Assert.Equal("sd uhs SDR104", BusState.Parse(files.Ios("mmc0").Value!).Mode);
    }

    public void Dispose()
    {
        _stop.Cancel();
        Assert.True(_server.Wait(TimeSpan.FromSeconds(30)));
        _listener.Dispose();
        _stop.Dispose();
        _board.Dispose();
        Directory.Delete(_agentRoot, recursive: true);
    }

    private string Raw(byte[] request)
    {
        using var socket = new Socket(AddressFamily.Unix, SocketType.Stream, ProtocolType.Unspecified) { ReceiveTimeout = 30_000 };
        socket.Connect(new UnixDomainSocketEndPoint(SocketFile));
        socket.Send(request);
        var answer = new byte[100_000];
        int held = 0;
        for (int got = -1; got != 0; held += got)
        {
            got = socket.Receive(answer, held, answer.Length - held, SocketFlags.None);
        }

        return Encoding.ASCII.GetString(answer, 0, held);
    }
}
