using System.Text.Json;
using Xunit.Abstractions;

namespace Cardassay.EndToEnd.Tests.Faults;

/// <summary>Disks that are full and disks that fail, as the kernel shows them to a process: small file systems behind loop devices.</summary>
[Collection("machine")]
public sealed class FailingDiskTests(ITestOutputHelper output) : IDisposable
{
    private readonly Workshop _workshop = new();

    /// <summary>
    /// The backing file of the loop device lies on a memory file system that has run full: the kernel finds out when it writes back, and tells it
    /// to fsync as EIO or ENOSPC, once. That is the failure of a dying disk, made without touching one.
    /// </summary>
    [SkippableFact]
    public void FailedFsync_OfTheIntakeLog_EndsTheCollectorWithoutAReceipt_AndNothingIsLostAfterwards()
    {
        Skip.IfNot(Environment.IsPrivilegedProcess && File.Exists("/dev/loop-control"), "mounting needs root and loop devices");
        _workshop.Agent("measure", _workshop.Scratch, "--plan", _workshop.Plan, "--tag", "E-5").Expect(0);
        using var disk = new FailingDisk(_workshop.Root);
        string data = Path.Combine(disk.Mount, "collector");
        using (Running collector = Serve(data, out string address))
        {
            disk.Fail();
            using Running agent = Running.Start(Repository.Agent, "work", "--collector", address, "--data", _workshop.AgentData, "--board", "bench-1");
            Finished ended = collector.Wait();
            Assert.Equal(1, ended.ExitCode);
            Assert.Contains("could not be written to disk", ended.Errors, StringComparison.Ordinal);
            Assert.Contains("2201", ended.Errors, StringComparison.Ordinal);
            agent.Kill();
        }

        Assert.Equal(Workshop.RecordsOfRun, Backlog()); // no receipt was given for anything

        disk.Repair();
        using (Running collector = Serve(data, out string address))
        {
            _workshop.Agent("work", "--collector", address, "--board", "bench-1", "--until-idle").Expect(0);
            Assert.Equal(0, Backlog());
            Assert.Equal(Workshop.RecordsOfRun, Received(data));
        }

        output.WriteLine("an fsync failed: the collector ended with 1 and gave no receipt; after the repair all records of a run arrived");
    }

    [SkippableFact]
    public void FullDisk_OfTheCollector_GoesOnWithoutARestartWhenFreed()
    {
        Skip.IfNot(Environment.IsPrivilegedProcess && File.Exists("/dev/loop-control"), "mounting needs root and loop devices");
        using var device = new LoopDevice(_workshop.Root, 24L << 20);
        device.Format();
        string mount = device.Mount(Path.Combine(_workshop.Root, "small"));
        string data = Path.Combine(mount, "collector");
        _workshop.Agent("measure", _workshop.Scratch, "--plan", _workshop.Plan, "--tag", "E-6").Expect(0);
        using Running collector = Serve(data, out string address);
        string ballast = Path.Combine(mount, "ballast");
        Fill(ballast);
        using (Running agent = Running.Start(Repository.Agent, "work", "--collector", address, "--data", _workshop.AgentData, "--board", "bench-1"))
        {
            agent.WaitForLine("disk is full");
            agent.Kill();
        }

        Assert.InRange(Backlog(), 1, Workshop.RecordsOfRun);
        File.Delete(ballast);
        _workshop.Agent("work", "--collector", address, "--board", "bench-1", "--until-idle").Expect(0);
        Assert.Equal(0, Backlog());
        Assert.Equal(Workshop.RecordsOfRun, Received(data));
        collector.Stop().Expect(0);
        output.WriteLine("collector's disk full, then freed: all records of a run, no restart");
    }

    [SkippableFact]
    public void FullDisk_OfTheDatabase_CostsNoReceipt_AndIsCaughtUpWhenFreed()
    {
        Skip.IfNot(Environment.IsPrivilegedProcess && File.Exists("/dev/loop-control"), "mounting needs root and loop devices");
        using var device = new LoopDevice(_workshop.Root, 24L << 20);
        device.Format();
        string store = device.Mount(Path.Combine(_workshop.CollectorData, "store"));
        _workshop.Agent("measure", _workshop.Scratch, "--plan", _workshop.Plan, "--tag", "E-6").Expect(0);
        (Running collector, string address, string page) = _workshop.Serve();
        using (collector)
        {
            string ballast = Path.Combine(store, "ballast");
            Fill(ballast);
            _workshop.Agent("work", "--collector", address, "--board", "bench-1", "--until-idle").Expect(0); // receipts are given all the same
            collector.WaitForLine("2103");
            using var http = new HttpClient();
            Assert.Contains("cardassay_store_waiting_room 1", http.GetStringAsync(page + "metrics").Result, StringComparison.Ordinal);
            Assert.Contains("waiting for room", http.GetAsync(page + "health/ready").Result.Content.ReadAsStringAsync().Result, StringComparison.Ordinal);
            Finished status = _workshop.Collector("status").Expect(0);
            Assert.Contains("waiting for room", status.Output, StringComparison.Ordinal);
            Assert.DoesNotContain("disposed", status.Output, StringComparison.Ordinal);

            File.Delete(ballast); // and it goes on by itself
            Assert.Equal(Workshop.RecordsOfRun, Received(_workshop.CollectorData));
            Assert.Equal(0, Backlog());

            // Told to stop while it is full again it ends in good order, and the next one goes on.
            Fill(ballast);
            _workshop.Agent("measure", _workshop.Scratch, "--plan", _workshop.Plan, "--tag", "E-6").Expect(0);
            _workshop.Agent("work", "--collector", address, "--board", "bench-1", "--until-idle").Expect(0);
            collector.WaitForLine("2103");
            collector.Stop().Expect(0);
            File.Delete(ballast);
            Assert.Equal(2 * Workshop.RecordsOfRun, Received(_workshop.CollectorData));
        }

        output.WriteLine("database's disk full, then freed: all records of a run, no restart");
    }

    [SkippableFact]
    public void FullDisk_OfTheBoard_StopsTheRunInASentence_AndLosesNothingReceipted()
    {
        Skip.IfNot(Environment.IsPrivilegedProcess && File.Exists("/dev/loop-control"), "mounting needs root and loop devices");
        using var device = new LoopDevice(_workshop.Root, 24L << 20);
        device.Format();
        string mount = device.Mount(Path.Combine(_workshop.Root, "small"));
        string agentData = Path.Combine(mount, "agent");
        (Running collector, string address, _) = _workshop.Serve();
        using (collector)
        {
            _workshop.AgentOn(agentData, "measure", _workshop.Scratch, "--plan", _workshop.Plan, "--tag", "E-7", "--collector", address).Expect(0);
            string ballast = Path.Combine(mount, "ballast");
            Fill(ballast);
            Finished full = _workshop.AgentOn(agentData, "measure", _workshop.Scratch, "--plan", _workshop.Plan, "--tag", "E-7", "--collector", address);
            Assert.Equal(1, full.ExitCode);
            Assert.Contains("full", full.Errors, StringComparison.Ordinal);
            File.Delete(ballast);
            _workshop.AgentOn(agentData, "measure", _workshop.Scratch, "--plan", _workshop.Plan, "--tag", "E-7", "--collector", address).Expect(0);
            JsonElement integrity = _workshop.Report().GetProperty("integrity");
            Assert.InRange(integrity.GetProperty("received").GetInt64(), 2 * Workshop.RecordsOfRun, 40); // two whole runs, and what of the third was journaled
            Assert.Equal(0, integrity.GetProperty("gaps").GetInt64());
            Assert.Equal(0, integrity.GetProperty("conflicts").GetInt64());
        }
    }

    public void Dispose() => _workshop.Dispose();

    private static void Fill(string ballast)
    {
        using var file = new FileStream(ballast, FileMode.Create, FileAccess.Write, FileShare.None, bufferSize: 0);
        byte[] block = new byte[1 << 16];
        foreach (int size in (int[])[1 << 16, 1 << 12, 512, 1])
        {
            try
            {
                while (true)
                {
                    file.Write(block, 0, size);
                    file.Flush(flushToDisk: true);
                }
            }
            catch (IOException)
            {
                // No room for a piece of this size.
            }
        }
    }

    private static Running Serve(string data, out string address)
    {
        Running process = Running.Start(Repository.Collector, "serve", "--data", data, "--listen", "off", "--plain-text", "127.0.0.1:0", "--page", "off");
        address = process.WaitForLine("plain text on this machine").Split(' ')[^1];
        process.WaitForLine("ready");
        return process;
    }

    private static long Received(string data)
    {
        // While the database cannot be used the answer says so.
        Finished asked = Running.Run(Repository.Collector, "status", "--json", "--data", data);
        for (int again = 0; again < 60 && (asked.ExitCode != 0 || HasProblem(asked.Output)); again++)
        {
            Thread.Sleep(1_000);
            asked = Running.Run(Repository.Collector, "status", "--json", "--data", data);
        }

        using JsonDocument status = JsonDocument.Parse(asked.Expect(0).Output);
        return status.RootElement.GetProperty("recordsReceived").GetInt64();
    }

    private static bool HasProblem(string json)
    {
        using JsonDocument status = JsonDocument.Parse(json);
        return status.RootElement.TryGetProperty("storeProblem", out JsonElement problem) && problem.GetString()!.Length > 0;
    }

    private long Backlog()
    {
        using JsonDocument backlog = JsonDocument.Parse(_workshop.Agent("backlog", "--json").Expect(0).Output);
        return backlog.RootElement.GetProperty("records").GetInt64();
    }
}
