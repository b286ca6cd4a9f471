using System.Net;
using System.Security.Cryptography;
using System.Text.Json;
using Xunit.Abstractions;

namespace Cardassay.EndToEnd.Tests.Faults;

/// <summary>Log and database as they are after an accident, and what the commands make of them. Nothing is deleted and nothing is silent.</summary>
[Collection("machine")]
public sealed class NothingDeletedTests(ITestOutputHelper output) : IDisposable
{
    private const int Records = Workshop.RecordsOfRun;

    private static readonly string[][] Looking =
    [
        ["status"], ["status", "--json"], ["report"], ["report", "--json"], ["boards"], ["cards"], ["schedule"], ["import", "--list"],
    ];

    private readonly Workshop _workshop = new();

    private string Intake => Path.Combine(_workshop.CollectorData, "intake");

    private string Database => Path.Combine(_workshop.CollectorData, "store", "cardassay.db");

    public void Dispose() => _workshop.Dispose();

    [Fact]
    public void IntakeGone_CommandsThatRead_ChangeNothingAndNameIt_AndRebuildBringsItBack()
    {
        Deliver();
        Directory.Move(Intake, Intake + "-away");
        Dictionary<string, string> before = Files();
        foreach (string[] command in Looking)
        {
            _workshop.Collector(command).Expect(0);
            Assert.Equal(before, Files());
        }

        _workshop.Collector("export", "--format", "csv", "--output", Path.Combine(_workshop.Root, "figures.csv")).Expect(0);
        Assert.Equal(before, Files());
        Assert.Equal(Records, Integrity().GetProperty("received").GetInt64());
        Finished status = _workshop.Collector("status").Expect(0);
        Assert.DoesNotContain("Nothing needs a person", status.Output, StringComparison.Ordinal);
        Assert.Contains("only in the database", status.Output, StringComparison.Ordinal);

        // Neither what receives nor what writes begins a new log over it.
        foreach (string[] command in (string[][])[["serve", "--listen", "off", "--page", "off"], ["claim", "E-1", "--maker", "maker A"]])
        {
            Finished refused = _workshop.Collector(command);
            Assert.Equal(1, refused.ExitCode);
            Assert.Contains("rebuild", refused.Errors, StringComparison.Ordinal);
            Assert.Equal(before, Files());
        }

        Finished rebuilt = _workshop.Collector("rebuild").Expect(0);
        Assert.Contains($"Recovered: {Records} records,", rebuilt.Output, StringComparison.Ordinal);
        DeleteDatabase(); // the log alone has it all now
        JsonElement integrity = Integrity();
        Assert.Equal(Records, integrity.GetProperty("received").GetInt64());
        Assert.Equal(0, integrity.GetProperty("entriesLost").GetInt64());
        output.WriteLine("intake log gone: no byte changed by ten commands, every record in the report, and in the log again after rebuild");
    }

    [Fact]
    public void BitFlippedInTheLog_RebuildTakesTheRecordFromTheDatabase()
    {
        Deliver();
        Flip();
        Assert.Contains("only in the database", _workshop.Collector("status").Expect(0).Output, StringComparison.Ordinal);
        Finished alone = _workshop.Collector("rebuild", "--from-log-alone");
        Assert.Equal(1, alone.ExitCode);
        Assert.Contains("1 record,", alone.Errors, StringComparison.Ordinal);
        Assert.Contains("would go", alone.Errors, StringComparison.Ordinal);
        Assert.Equal(Records, Integrity().GetProperty("received").GetInt64());

        Finished rebuilt = _workshop.Collector("rebuild").Expect(0);
        Assert.Contains("Recovered: 1 record,", rebuilt.Output, StringComparison.Ordinal);
        JsonElement integrity = Integrity();
        Assert.Equal(Records, integrity.GetProperty("received").GetInt64());
        Assert.Equal(0, integrity.GetProperty("entriesLost").GetInt64());
        Assert.Contains("taken out of the database", _workshop.Collector("status").Expect(0).Output, StringComparison.Ordinal);
    }

    [Fact]
    public void RecordInNeither_IsNamedInEveryRendering_UntilAPersonAcknowledgesIt()
    {
        Deliver();
        Flip();
        DeleteDatabase();
        const string Lost = "1 entry of the intake log lost";
        Finished status = _workshop.Collector("status").Expect(0);
        Assert.Contains("Needs a person", status.Output, StringComparison.Ordinal);
        Assert.Contains("1 entry of the intake log lost", status.Output, StringComparison.Ordinal);
        (Running collector, _, string page) = _workshop.Serve();
        using (collector)
        {
            foreach (string format in (string[])["terminal", "html", "markdown", "csv", "json"])
            {
                string file = Path.Combine(_workshop.Root, "report." + format);
                _workshop.Collector("report", "--format", format, "--output", file).Expect(0);
                Assert.Contains(Lost, File.ReadAllText(file).ReplaceLineEndings(" "), StringComparison.Ordinal);
            }

            using var http = new HttpClient();
            Assert.Contains(Lost, http.GetStringAsync(page).Result, StringComparison.Ordinal);
            string words = _workshop.Collector("status").Expect(0).Output;
            string key = words[(words.IndexOf("--acknowledge ", StringComparison.Ordinal) + 14)..][..8];
            Assert.Equal(2, _workshop.Collector("status", "--acknowledge", key).ExitCode); // without a reason
            _workshop.Collector("status", "--acknowledge", key, "--reason", "the disk was replaced").Expect(0);
        }

        collector.Dispose();
        DeleteDatabase();
        foreach (string once in (string[])["after it", "from the log alone"])
        {
            status = _workshop.Collector("status").Expect(0);
            Assert.False(status.Output.Contains("--acknowledge", StringComparison.Ordinal), status.Output);
            JsonElement integrity = Integrity();
            Assert.Equal(1, integrity.GetProperty("entriesLost").GetInt64());
            Assert.EndsWith("(acknowledged).", integrity.GetProperty("line").GetString(), StringComparison.Ordinal);
            Assert.Contains("the disk was replaced", integrity.GetProperty("findings").ToString(), StringComparison.Ordinal);
            _workshop.Collector("rebuild").Expect(0);
            output.WriteLine($"{once}: named and acknowledged");
        }
    }

    [Fact]
    public void LogShorterThanTheDatabase_KeepsTheDatabase_AndGoesOnWithoutUsingANumberAgain()
    {
        Deliver();
        string older = Intake + "-older";
        Running.Run("cp", "-a", Intake, older).Expect(0);
        Deliver();
        Directory.Delete(Intake, recursive: true);
        Directory.Move(older, Intake); // restored from a copy of last week
        Assert.Equal(2 * Records, Integrity().GetProperty("received").GetInt64());
        Deliver();
        JsonElement integrity = Integrity();
        Assert.Equal(3 * Records, integrity.GetProperty("received").GetInt64());
        Assert.Equal(0, integrity.GetProperty("conflicts").GetInt64());
        Assert.Contains("only in the database", _workshop.Collector("status").Expect(0).Output, StringComparison.Ordinal);
        Assert.Contains($"Recovered: {Records} records,", _workshop.Collector("rebuild").Expect(0).Output, StringComparison.Ordinal);
        DeleteDatabase();
        Assert.Equal(3 * Records, Integrity().GetProperty("received").GetInt64());
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void IntakeMovedUnderARunningCollector_NoReceiptIsGiven_UntilItIsBack(bool isReplaced)
    {
        (Running collector, string address, string page) = _workshop.Serve();
        using (collector)
        {
            Measure("E-1");
            _workshop.Agent("work", "--collector", address, "--board", "bench-1", "--until-idle").Expect(0);
            Directory.Move(Intake, Intake + "-away");
            if (isReplaced)
            {
                Running.Run("cp", "-a", Intake + "-away", Intake).Expect(0);
            }

            Measure("E-2");
            using (Running agent = Running.Start(Repository.Agent, "work", "--collector", address, "--data", _workshop.AgentData, "--board", "bench-1"))
            {
                collector.WaitForLine("Nothing is received");
                agent.Kill();
            }

            Assert.Equal(Records, Backlog());
            using var http = new HttpClient();
            Assert.Equal(HttpStatusCode.ServiceUnavailable, http.GetAsync(page + "health/ready").Result.StatusCode);
            Assert.Contains("no longer in", _workshop.Collector("status").Expect(0).Output, StringComparison.Ordinal);
            if (isReplaced)
            {
                Directory.Delete(Intake, recursive: true);
            }

            Directory.Move(Intake + "-away", Intake);
            _workshop.Agent("work", "--collector", address, "--board", "bench-1", "--until-idle").Expect(0);
            Assert.Equal(0, Backlog());
            collector.Stop().Expect(0);
        }

        DeleteDatabase();
        Assert.Equal(2 * Records, Integrity().GetProperty("received").GetInt64());
        output.WriteLine("intake log moved under a running collector: no receipt for the records of a run, all of two there when it was back");
    }

    [Fact]
    public void Status_FirstCall_KnowsWhenTheCollectorBegan_AndWhichBoardsJoined()
    {
        DateTimeOffset begun = TimeProvider.System.GetUtcNow();
        (Running first, string address) = _workshop.ServeTls();
        using (first)
        {
            _workshop.Agent("join", _workshop.Invite("harbour-1", address)).Expect(0);
            _workshop.Invite("harbour-2", address); // invited is not joined
            first.Stop().Expect(0);
        }

        (Running again, _) = _workshop.ServeTls();
        using (again)
        {
            DateTimeOffset ready = TimeProvider.System.GetUtcNow();
            Task.Delay(2_000).Wait();
            using JsonDocument status = JsonDocument.Parse(_workshop.Collector("status", "--json").Expect(0).Output);
            long startedNs = status.RootElement.GetProperty("startedUnixNs").GetInt64();
            Assert.InRange(DateTimeOffset.UnixEpoch.AddTicks(startedNs / 100), begun, ready);
            Assert.Equal(1, status.RootElement.GetProperty("boardsKnown").GetInt32());
        }
    }

    private void Measure(string tag) => _workshop.Agent("measure", _workshop.Scratch, "--plan", _workshop.Plan, "--tag", tag).Expect(0);

    private void Deliver()
    {
        Measure("E-1");
        (Running collector, string address, _) = _workshop.Serve();
        using (collector)
        {
            _workshop.Agent("work", "--collector", address, "--board", "bench-1", "--until-idle").Expect(0);
            _workshop.Collector("status").Expect(0);
            collector.Stop().Expect(0);
        }
    }

    /// <summary>With the engine's own log beside it, out of which records come back.</summary>
    private void DeleteDatabase()
    {
        File.Delete(Database);
        File.Delete(Database.Replace(".db", "-log.db", StringComparison.Ordinal));
    }

    /// <summary>One bit, in the middle of the log's only segment.</summary>
    private void Flip()
    {
        string segment = Assert.Single(Directory.GetFiles(Intake, "*.cardlog"));
        byte[] bytes = File.ReadAllBytes(segment);
        bytes[bytes.Length / 2] ^= 8;
        File.WriteAllBytes(segment, bytes);
    }

    private JsonElement Integrity() => _workshop.Report().GetProperty("integrity");

    private long Backlog()
    {
        using JsonDocument backlog = JsonDocument.Parse(_workshop.Agent("backlog", "--json").Expect(0).Output);
        return backlog.RootElement.GetProperty("records").GetInt64();
    }

    /// <summary>Every file of the data folder with its content.</summary>
    private Dictionary<string, string> Files() => Directory.EnumerateFileSystemEntries(_workshop.CollectorData, "*", SearchOption.AllDirectories)
        .ToDictionary(path => path, path => File.Exists(path) ? Convert.ToHexString(SHA256.HashData(File.ReadAllBytes(path))) : "folder");
}
