using System.Text.Json;

namespace Cardassay.EndToEnd.Tests;

/// <summary>What the analysis proposes is scheduled where it destroys nothing, done by the board, and counted.</summary>
[Collection("machine")]
public sealed class SuggestedTests : IDisposable
{
    private readonly Workshop _workshop = new();

    [Fact]
    public void ScheduleSuggested_CardNotSettled_IsMeasuredAgainAndNotWithAnotherCard()
    {
        using var disk = new LoopDevice(_workshop.Root, 96 << 20);
        disk.Format();
        disk.Mount(_workshop.Scratch);
        (Running collector, string address, _) = _workshop.Serve();
        using (collector)
        {
            _workshop.Agent("measure", _workshop.Scratch, "--plan", _workshop.Plan, "--tag", "S-1", "--board", "bench", "--collector", address).Expect(0);

            JsonElement Proposal(params string[] more) => JsonDocument.Parse(
                _workshop.Collector(["schedule", "--suggested", "--json", .. more]).Expect(0).Output).RootElement.GetProperty("runs").EnumerateArray()
                .First(run => !run.GetProperty("whyNot").ToString().Contains("A capacity proof", StringComparison.Ordinal)); // a person's to decide
            JsonElement proposed = Proposal("--dry-run");
            Assert.True(proposed.GetProperty("taken").GetBoolean(), proposed.ToString());
            Assert.Contains("\"entries\": []", _workshop.Collector("schedule", "--json").Expect(0).Output, StringComparison.Ordinal);
            Assert.False(Proposal("--dry-run", "--hours", "0.0001").GetProperty("taken").GetBoolean());

            JsonElement taken = Proposal();
            Assert.Equal("S-1", taken.GetProperty("card").GetString());
            Assert.Equal(_workshop.Scratch, taken.GetProperty("target").GetString());
            _workshop.Agent("work", "--collector", address, "--board", "bench", "--until-idle").Expect(0);
            JsonElement report = _workshop.Report();
            JsonElement card = Assert.Single(report.GetProperty("cards").EnumerateArray());
            Assert.True(report.GetProperty("integrity").GetProperty("received").GetInt64() >= 24); // two runs of 12 records at least
            Assert.Equal("S-1", card.GetProperty("tag").GetString());
        }
    }

    [Fact]
    public void ScheduleSuggested_DiskOfTheJournal_IsLeftToAPerson()
    {
        // A disk of its own: what else uses this machine's would set figures aside, and a card without any is proposed for nothing.
        using var disk = new LoopDevice(_workshop.Root, 96 << 20);
        disk.Format();
        string card = Directory.CreateDirectory(Path.Combine(disk.Mount(_workshop.AgentData), "card")).FullName;
        (Running collector, string address, _) = _workshop.Serve();
        using (collector)
        {
            _workshop.Agent("measure", card, "--plan", _workshop.Plan, "--tag", "S-1", "--board", "bench", "--collector", address, "--allow-fixed-disk").Expect(0);
            JsonElement[] runs =
                [.. JsonDocument.Parse(_workshop.Collector("schedule", "--suggested", "--json", "--dry-run").Expect(0).Output).RootElement.GetProperty("runs").EnumerateArray()];
            Assert.All(runs, run => Assert.False(run.GetProperty("taken").GetBoolean()));
            Assert.Contains(runs, run => run.GetProperty("whyNot").ToString().Contains("--allow-fixed-disk", StringComparison.Ordinal));
        }
    }

    [Fact]
    public void ReportExplain_Card_ListsVerdictAndRecordKeys()
    {
        (Running collector, string address, _) = _workshop.Serve();
        using (collector)
        {
            _workshop.Agent("measure", _workshop.Scratch, "--plan", _workshop.Plan, "--tag", "S-1", "--collector", address).Expect(0);
            string text = _workshop.Collector("report", "--explain", "S-1").Expect(0).Output;
            Assert.Contains("Verdict: not proven", text, StringComparison.Ordinal);
            Assert.Matches("[0-9a-f]{32}:[0-9]+", text);
            _workshop.Collector("report", "--explain", "nobody").Expect(2);
        }
    }

    [Fact]
    public void Report_ProfileFile_IsUsedOrRefusedByLineAndKey()
    {
        _workshop.Serve().Process.Stop(); // makes the folder
        string file = Path.Combine(_workshop.Root, "mine.json");
        File.WriteAllText(file, """{ "name": "mine", "metrics": [ { "metric": "randomRead", "weight": 1, "reference": 1500 } ] }""");
        Assert.Contains("profile mine", _workshop.Collector("report", "--profile", file).Expect(0).Output, StringComparison.Ordinal);
        File.WriteAllText(file, "{ \"name\": \"mine\",\n \"metrics\": [ { \"metric\": \"randomReed\", \"weight\": 1, \"reference\": 1500 } ] }");
        string errors = _workshop.Collector("report", "--profile", file).Expect(2).Errors;
        Assert.Contains("line 2", errors, StringComparison.Ordinal);
        Assert.Contains("metrics[0].metric", errors, StringComparison.Ordinal);
    }

    public void Dispose() => _workshop.Dispose();
}
