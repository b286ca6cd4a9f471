using System.Net;
using System.Net.Sockets;
using System.Text.Json;

namespace Cardassay.EndToEnd.Tests;

/// <summary>The invitation is one line, works as it is pasted, and never takes a board away from where it is without being told to.</summary>
[Collection("machine")]
public sealed class JoinTests : IDisposable
{
    private readonly Workshop _workshop = new();

    [Fact]
    public void Invite_PrintsOneLine_ThatWorksPastedIntoAShellAndIntoJoin()
    {
        (Running collector, _) = _workshop.ServeTls();
        using (collector)
        {
            Finished invited = _workshop.Collector("invite", "bench-1").Expect(0);
            string line = Assert.Single(invited.Output.TrimEnd('\n').Split('\n'));
            Assert.StartsWith("cardassay-agent join cardassay-1/", line, StringComparison.Ordinal);
            Assert.Contains("as bench-1", Shell(line, "a").Expect(0).Output, StringComparison.Ordinal);

            string second = _workshop.Collector("invite", "bench-2").Expect(0).Output;
            Assert.Contains("as bench-2", Shell($"printf '%s' '\n  {second}' | cardassay-agent join -", "b").Expect(0).Output, StringComparison.Ordinal);
        }
    }

    [Fact]
    public void Join_OnAMember_AsksForAgain_AndThenClosesTheOldName()
    {
        (Running collector, _) = _workshop.ServeTls();
        using (collector)
        {
            _workshop.Agent("join", _workshop.Invite("attic")).Expect(0);
            _workshop.Agent("measure", _workshop.Scratch, "--plan", _workshop.Plan).Expect(0);
            string membership = File.ReadAllText(Path.Combine(_workshop.AgentData, "membership.json"));

            string line = _workshop.Invite("bench-1");
            Finished refused = _workshop.Agent("join", line).Expect(2);
            Assert.Contains("as attic: to join anew under this invitation say --again", refused.Errors, StringComparison.Ordinal);
            Assert.Equal(membership, File.ReadAllText(Path.Combine(_workshop.AgentData, "membership.json")));
            Assert.Equal("joined", Trust("attic"));

            // The refusal used nothing up.
            Assert.Contains("Its old name attic is closed.", _workshop.Agent("join", line, "--again").Expect(0).Output, StringComparison.Ordinal);
            Assert.Equal(("revoked", "joined"), (Trust("attic"), Trust("bench-1")));
            _workshop.Agent("work", "--until-idle").Expect(0);

            // The same journal under the new name was announced: no doubt about a copied board.
            Assert.DoesNotContain("journal-moved", _workshop.Collector("report", "--json").Expect(0).Output, StringComparison.Ordinal);
        }
    }

    [Fact]
    public async Task Join_AnswerLostOnTheWay_SaysThatItIsNotKnownWhetherTheInvitationWasUsed()
    {
        (Running collector, string address) = _workshop.ServeTls();
        using (collector)
        {
            using var way = new TcpListener(IPAddress.Loopback, 0);
            way.Start();
            Task carried = LoseTheSecondAnswerAsync(way, IPEndPoint.Parse(address));
            string errors = _workshop.Agent("join", _workshop.Invite("bench-1", way.LocalEndpoint.ToString())).Expect(1).Errors;
            Assert.Contains("whether it has used the invitation is not known", errors, StringComparison.Ordinal);
            Assert.DoesNotContain("still counts", errors, StringComparison.Ordinal);
            await carried;

            // It was used: the collector has taken in a board that knows nothing of it. A new invitation under the same name mends that.
            Assert.Equal("joined", Trust("bench-1"));
            Assert.False(File.Exists(Path.Combine(_workshop.AgentData, "membership.json")));
            Assert.Contains("as bench-1", _workshop.Agent("join", _workshop.Invite("bench-1")).Expect(0).Output, StringComparison.Ordinal);
        }
    }

    [Fact]
    public void Join_Refused_LeavesNoFolderBehind()
    {
        (Running collector, _) = _workshop.ServeTls();
        string line = _workshop.Invite("bench-1");
        collector.Stop();
        collector.Dispose();
        Assert.Contains("The invitation still counts", _workshop.Agent("join", line).Expect(1).Errors, StringComparison.Ordinal);
        _workshop.Agent("join", line[..^3]).Expect(2);
        Assert.False(Directory.Exists(_workshop.AgentData));
    }

    public void Dispose() => _workshop.Dispose();

    /// <summary>Carries two connections: the question who is there, and the joining itself, whose answer is swallowed when the collector has taken the board in.</summary>
    private async Task LoseTheSecondAnswerAsync(TcpListener way, IPEndPoint collector)
    {
        for (int connection = 1; connection <= 2; connection++)
        {
            using TcpClient board = await way.AcceptTcpClientAsync();
            using var far = new TcpClient();
            await far.ConnectAsync(collector);
            Task asked = board.GetStream().CopyToAsync(far.GetStream());
            if (connection == 1)
            {
                await Task.WhenAny(asked, far.GetStream().CopyToAsync(board.GetStream()));
                continue;
            }

            byte[] bytes = new byte[64 << 10];
            while (await far.GetStream().ReadAsync(bytes) is > 0 and int n && Trust("bench-1") != "joined")
            {
                await board.GetStream().WriteAsync(bytes.AsMemory(0, n));
            }
        }
    }

    private string? Trust(string board) => JsonDocument.Parse(_workshop.Collector("boards", "--json").Expect(0).Output).RootElement
        .GetProperty("boards").EnumerateArray().Single(b => b.GetProperty("name").GetString() == board).GetProperty("trust").GetString();

    private Finished Shell(string command, string data) => Running.Run(
        "/bin/sh", "-c", $"PATH={Path.GetDirectoryName(Repository.Agent)}:$PATH CARDASSAY_DATA={Path.Combine(_workshop.Root, data)}; export PATH CARDASSAY_DATA; {command}");
}
