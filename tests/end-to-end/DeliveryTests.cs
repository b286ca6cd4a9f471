using System.Net;
using System.Text.Json;

namespace Cardassay.EndToEnd.Tests;

/// <summary>Agent and collector as processes of their own on real I/O.</summary>
[Collection("machine")]
public sealed class DeliveryTests : IDisposable
{
    private readonly Workshop _workshop = new();

    [Fact]
    public void Measure_WithCollector_EndsInAReportOfThisTarget()
    {
        (Running collector, string address, string page) = _workshop.Serve();
        using (collector)
        {
            Finished measured = _workshop.Agent("measure", _workshop.Scratch, "--plan", _workshop.Plan, "--tag", "E-1", "--collector", address).Expect(0);
            Assert.Contains("receipt", measured.Errors, StringComparison.Ordinal);
            using var http = new HttpClient();
            Assert.Equal(HttpStatusCode.OK, http.GetAsync(page + "health/ready").Result.StatusCode);
            Assert.Contains("E-1", http.GetStringAsync(page + "report").Result, StringComparison.Ordinal);
            JsonElement report = _workshop.Report();
            JsonElement card = Assert.Single(report.GetProperty("cards").EnumerateArray());
            Assert.Equal("E-1", card.GetProperty("tag").GetString());

            // The disk below is this machine's own: a trial during which somebody else used it is set aside, but none is missing.
            Assert.Equal(Workshop.RecordsOfRun, report.GetProperty("integrity").GetProperty("received").GetInt64());
            Assert.InRange(card.GetProperty("metrics").GetProperty("randomRead").GetProperty("runs").GetInt32(), 1, 2);
        }
    }

    [Fact]
    public void Deliver_CollectorKilledBetweenTwoDeliveriesAndJournalSentTwice_OneRowPerRecordAndTheSameReport()
    {
        _workshop.Agent("measure", _workshop.Scratch, "--plan", _workshop.Plan, "--tag", "E-1").Expect(0);
        string copy = Path.Combine(_workshop.Root, "agent-copy");
        Running.Run("cp", "-a", _workshop.AgentData, copy).Expect(0);

        (Running collector, string address, _) = _workshop.Serve();
        Assert.StartsWith("Nothing is kept for the reports, so there is nothing to check", _workshop.Collector("rebuild", "--check").Expect(0).Output, StringComparison.Ordinal);
        _workshop.Agent("work", "--collector", address, "--until-idle").Expect(0);
        string first = _workshop.Collector("report", "--json").Expect(0).Output;
        collector.Kill();
        collector.Dispose();

        (collector, address, _) = _workshop.Serve();
        using (collector)
        {
            _workshop.AgentOn(copy, "work", "--collector", address, "--until-idle").Expect(0);
            string again = _workshop.Collector("report", "--json").Expect(0).Output;
            Assert.Equal(first, again);
            JsonElement integrity = JsonDocument.Parse(again).RootElement.GetProperty("integrity");
            Assert.Equal(Workshop.RecordsOfRun, integrity.GetProperty("received").GetInt64());
            Assert.Equal(0, integrity.GetProperty("gaps").GetInt64());
            Assert.Equal(0, integrity.GetProperty("conflicts").GetInt64());
        }

        _workshop.Collector("rebuild").Expect(0);
        Assert.Equal(first, _workshop.Collector("report", "--json").Expect(0).Output);
        Assert.Equal("1 run checked, 1 of which are kept for the reports: all agree with their records.", _workshop.Collector("rebuild", "--check").Expect(0).Output.Trim());
        _workshop.Collector("rebuild", "--check", "--from-log-alone").Expect(2);
    }

    [Fact]
    public void Measure_CollectorAway_KeepsTheBacklogAndDeliversItLater()
    {
        // A port nobody listens on: bound and closed again.
        (Running collector, string address, _) = _workshop.Serve();
        collector.Kill();
        collector.Dispose();
        Finished measured = _workshop.Agent(
            "measure", _workshop.Scratch, "--plan", _workshop.Plan, "--collector", address, "--wait", "1").Expect(0);
        Assert.Contains("away", measured.Errors, StringComparison.Ordinal);
        Assert.Contains("no receipt yet", measured.Errors, StringComparison.Ordinal);
        Assert.Equal(Workshop.RecordsOfRun, JsonDocument.Parse(_workshop.Agent("backlog", "--json").Expect(0).Output).RootElement.GetProperty("records").GetInt64());

        (collector, address, _) = _workshop.Serve(new Uri(address).Port);
        using (collector)
        {
            _workshop.Agent("work", "--collector", address, "--until-idle").Expect(0);
            Assert.Equal(Workshop.RecordsOfRun, _workshop.Report().GetProperty("integrity").GetProperty("received").GetInt64());
        }

        Assert.Equal(0, JsonDocument.Parse(_workshop.Agent("backlog", "--json").Expect(0).Output).RootElement.GetProperty("records").GetInt64());
    }

    [Fact]
    public void Work_ScheduledRuns_AreDoneAndReportedDone()
    {
        (Running collector, string address, _) = _workshop.Serve();
        using (collector)
        {
            _workshop.Agent("work", "--collector", address, "--board", "bench-1", "--until-idle").Expect(0); // now it is known
            _workshop.Collector("schedule", "bench-1", _workshop.Scratch, "--plan", _workshop.Plan, "--repeat", "2", "--tag", "E-2", "--allow-fixed-disk").Expect(0);
            _workshop.Agent("work", "--collector", address, "--board", "bench-1", "--until-idle").Expect(0);
            JsonElement entry = Assert.Single(JsonDocument.Parse(
                _workshop.Collector("schedule", "--json").Expect(0).Output).RootElement.GetProperty("entries").EnumerateArray());
            Assert.Equal("done", entry.GetProperty("state").GetString());
            JsonElement report = _workshop.Report();
            JsonElement card = Assert.Single(report.GetProperty("cards").EnumerateArray());
            Assert.InRange(card.GetProperty("metrics").GetProperty("randomRead").GetProperty("runs").GetInt32(), 1, 4); // 2 runs x 2 repetitions
            Assert.Equal(2 * Workshop.RecordsOfRun, report.GetProperty("integrity").GetProperty("received").GetInt64());
        }
    }

    [Fact]
    public void Work_UntilIdle_WithANewCollector_DeliversEverythingAgainAndNoBacklogIsLeft()
    {
        (Running first, string address, _) = _workshop.Serve();
        using (first)
        {
            _workshop.Agent("measure", _workshop.Scratch, "--plan", _workshop.Plan, "--board", "bench-1", "--collector", address).Expect(0);
            first.Stop();
        }

        // The journal has a receipt for everything, but of a collector whose data are gone.
        Directory.Delete(_workshop.CollectorData, recursive: true);
        (Running second, address, _) = _workshop.Serve();
        using (second)
        {
            _workshop.Agent("work", "--collector", address, "--board", "bench-1", "--until-idle").Expect(0);
            JsonElement status = JsonDocument.Parse(_workshop.Collector("status", "--json").Expect(0).Output).RootElement;
            Assert.Equal(Workshop.RecordsOfRun, status.GetProperty("recordsReceived").GetInt64());
            Assert.Equal(0, status.GetProperty("backlogRecords").GetInt64());
            Assert.Equal(0, Assert.Single(status.GetProperty("boards").EnumerateArray()).GetProperty("backlogRecords").GetInt64());
        }
    }

    public void Dispose() => _workshop.Dispose();
}
