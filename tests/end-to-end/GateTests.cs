using System.Diagnostics;
using System.Globalization;
using System.Net.Security;
using System.Net.Sockets;
using Xunit.Abstractions;

namespace Cardassay.EndToEnd.Tests;

/// <summary>What the programs let in, and what they let out: strangers at the door, folders open to everyone, arguments that name files.</summary>
[Collection("machine")]
[System.Runtime.Versioning.SupportedOSPlatform("linux")]
public sealed class GateTests(ITestOutputHelper output) : IDisposable
{
    private readonly Workshop _workshop = new();

    [Fact]
    public void Serve_AuthorityMissingWhereABoardJoined_IsRefusedUntilTheBoardIsShutOut()
    {
        (Running collector, _) = _workshop.ServeTls();
        using (collector)
        {
            _workshop.Agent("join", _workshop.Invite("bench-1")).Expect(0);
            collector.Stop();
        }

        string authority = Path.Combine(_workshop.CollectorData, "authority");
        Directory.Move(authority, authority + "-away");
        string[] serve = ["serve", "--listen", "127.0.0.1:0", "--page", "off"];
        Finished refused = _workshop.Collector(serve).Expect(1);
        Assert.Contains("is missing, and 1 boards joined under it (bench-1): put it back from a backup", refused.Errors, StringComparison.Ordinal);
        Assert.False(Directory.Exists(authority));
        _workshop.Collector("boards", "revoke", "bench-1").Expect(0);
        (Running again, _) = _workshop.ServeTls();
        using (again)
        {
            Assert.True(File.Exists(Path.Combine(authority, "authority.pem")));
            _workshop.AgentOn(_workshop.AgentData + "-anew", "join", _workshop.Invite("bench-1")).Expect(0); // under the new authority it is another collector
        }
    }

    [Theory]
    [InlineData("")]
    [InlineData("intake")]
    public void Collector_FolderOpenToEveryone_IsRefusedWithTheRemedy(string inside)
    {
        _workshop.BeginCollector();
        string folder = Path.Combine(_workshop.CollectorData, inside).TrimEnd('/');
        File.SetUnixFileMode(folder, (UnixFileMode)0b111_111_111);
        foreach (string[] command in (string[][])[["status"], ["serve", "--listen", "off", "--page", "off"]])
        {
            Assert.Contains($"`chmod o-rwx {folder}`", _workshop.Collector(command).Expect(1).Errors, StringComparison.Ordinal);
        }

        File.SetUnixFileMode(folder, UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.UserExecute);
        _workshop.Collector("status").Expect(0);
    }

    [Fact]
    public void Agent_FolderOpenToEveryone_IsRefusedWithTheRemedy()
    {
        Directory.CreateDirectory(_workshop.AgentData);
        File.SetUnixFileMode(_workshop.AgentData, (UnixFileMode)0b111_111_111);
        Assert.Contains($"`chmod o-rwx {_workshop.AgentData}`", _workshop.Agent("measure", _workshop.Scratch, "--plan", _workshop.Plan).Expect(1).Errors, StringComparison.Ordinal);
    }

    [Fact]
    public void Argument_ThatBeginsWithAt_IsTextAndNoFile()
    {
        _workshop.BeginCollector();
        string file = Path.Combine(_workshop.Root, "text");
        File.WriteAllText(file, "\"--maker\" \"Quillon\"\n");
        _workshop.Collector("claim", "T-1", "--maker", "Halvorn", "--product", "@" + file).Expect(0);
        string cards = _workshop.Collector("cards", "--json").Expect(0).Output;
        Assert.Contains("@" + file, cards, StringComparison.Ordinal);
        Assert.DoesNotContain("Quillon", cards, StringComparison.Ordinal);
        Assert.Contains("@" + file, _workshop.Agent("measure", "@" + file, "--plan", _workshop.Plan).Errors, StringComparison.Ordinal);
    }

    [Fact]
    public void Board_AmongAThousandStrangers_DeliversAndStatusNamesThem()
    {
        (Running collector, string address) = _workshop.ServeTls();
        using (collector)
        {
            _workshop.Agent("join", _workshop.Invite("bench-1")).Expect(0);
            _workshop.Agent("measure", _workshop.Scratch, "--plan", _workshop.Plan, "--tag", "E-1", "--wait", "0").Expect(0);
            List<Stream> crowd = [];
            for (int i = 0; i < 1_500; i++)
            {
                crowd.Add(Knock(address));
            }

            long begun = Stopwatch.GetTimestamp();
            _workshop.Agent("work", "--until-idle").Expect(0);
            output.WriteLine(string.Create(CultureInfo.InvariantCulture, $"1500 strangers; the agent started, delivered its records and ended in {Stopwatch.GetElapsedTime(begun).TotalSeconds:0.0} s"));
            Assert.Equal(Workshop.RecordsOfRun, _workshop.Report().GetProperty("integrity").GetProperty("received").GetInt64());
            Assert.Contains("has been full since", _workshop.Collector("status").Expect(0).Output, StringComparison.Ordinal);
            crowd.ForEach(s => s.Dispose());
            Assert.Contains("is full; the oldest connection of 127.0.0.1", collector.Stop().Errors, StringComparison.Ordinal);
        }
    }

    public void Dispose() => _workshop.Dispose();

    private static Stream Knock(string address)
    {
        string[] parts = address.Split(':');
        var socket = new Socket(SocketType.Stream, ProtocolType.Tcp);
        socket.Connect(parts[0], int.Parse(parts[1], CultureInfo.InvariantCulture));
        var tls = new SslStream(new NetworkStream(socket, ownsSocket: true), leaveInnerStreamOpen: false, (_, _, _, _) => true);
        try
        {
            tls.AuthenticateAsClient(new SslClientAuthenticationOptions { TargetHost = "stranger", ApplicationProtocols = [SslApplicationProtocol.Http2] });
        }
        catch (Exception e) when (e is IOException or System.Security.Authentication.AuthenticationException)
        {
            // Turned away already.
        }

        return tls;
    }
}
