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

    private string? Trust(string board) => JsonDocument.Parse(_workshop.Collector("boards", "--json").Expect(0).Output).RootElement
        .GetProperty("boards").EnumerateArray().Single(b => b.GetProperty("name").GetString() == board).GetProperty("trust").GetString();

    private Finished Shell(string command, string data) => Running.Run(
        "/bin/sh", "-c", $"PATH={Path.GetDirectoryName(Repository.Agent)}:$PATH CARDASSAY_DATA={Path.Combine(_workshop.Root, data)}; export PATH CARDASSAY_DATA; {command}");
}
