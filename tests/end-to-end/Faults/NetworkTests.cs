using System.Diagnostics;
using System.Globalization;
using System.Text.Json;
using Xunit.Abstractions;

namespace Cardassay.EndToEnd.Tests.Faults;

/// <summary>Agent and collector in two network namespaces with a bad wire between them.</summary>
[Collection("machine")]
public sealed class NetworkTests(ITestOutputHelper output) : IDisposable
{
    private const int Records = 3 * Workshop.RecordsOfRun;

    private readonly Workshop _workshop = new();

    [SkippableFact]
    public void LossDelayAndReordering_OfThirtyPercentAnd300Milliseconds_LetProgressGoOn()
    {
        Skip.IfNot(FaultyLink.IsPossible, "network namespaces need root, ip and /dev/net/tun");
        for (int run = 0; run < 3; run++)
        {
            _workshop.Agent("measure", _workshop.Scratch, "--plan", _workshop.Plan, "--tag", "E-8").Expect(0);
        }

        using var link = new FaultyLink(seed: 30) { DelayMs = 120, Loss = 0.3 }; // 120 to 180 ms each way
        using Running collector = Serve(link);
        var clock = Stopwatch.StartNew();
        using (Running agent = Work(link))
        {
            while (Received() < Records)
            {
                Assert.True(clock.Elapsed < TimeSpan.FromMinutes(3), $"only {Received()} of {Records} records after {clock.Elapsed}");
                Thread.Sleep(1_500); // each question starts a program
            }

            agent.Kill();
        }

        output.WriteLine(string.Create(CultureInfo.InvariantCulture,
            $"{Records} records over a wire that lost {link.Lost} of {link.Lost + link.Carried} packets and took 240 to 360 ms there and back: {clock.Elapsed.TotalSeconds:0.0} s"));
        Assert.InRange((double)link.Lost / (link.Lost + link.Carried), 0.15, 0.45); // the wire was as bad as it is called
    }

    [SkippableFact]
    public void HalfOpenConnection_IsNoticedByBothEndsWithin45Seconds_AndMadeAgain()
    {
        Skip.IfNot(FaultyLink.IsPossible, "network namespaces need root, ip and /dev/net/tun");
        using var link = new FaultyLink(seed: 31) { DelayMs = 2 };
        using Running collector = Serve(link);
        using Running agent = Work(link);
        collector.WaitForLine("greets");
        Assert.True(FaultyLink.IsConnected(link.Board) && FaultyLink.IsConnected(link.Collector));

        link.IsCut = true; // no FIN, no RST: each end believes in the other
        var clock = Stopwatch.StartNew();
        TimeSpan? board = null;
        TimeSpan? bench = null;
        while ((board is null || bench is null) && clock.Elapsed < TimeSpan.FromSeconds(90))
        {
            board ??= FaultyLink.IsConnected(link.Board) ? null : clock.Elapsed;
            bench ??= FaultyLink.IsConnected(link.Collector) ? null : clock.Elapsed;
            Thread.Sleep(200);
        }

        link.IsCut = false;
        collector.WaitForLine("greets"); // a stream of its own accord, at most 30 s of backoff later
        output.WriteLine(string.Create(CultureInfo.InvariantCulture,
            $"a silent cut: the board's end was gone after {board?.TotalSeconds:0.0} s, the collector's after {bench?.TotalSeconds:0.0} s; connected again after the cut ended"));
        Assert.InRange(board ?? TimeSpan.MaxValue, TimeSpan.Zero, TimeSpan.FromSeconds(45));
        Assert.InRange(bench ?? TimeSpan.MaxValue, TimeSpan.Zero, TimeSpan.FromSeconds(45));
        agent.Kill();
    }

    public void Dispose() => _workshop.Dispose();

    private Running Serve(FaultyLink link)
    {
        Running collector = FaultyLink.Start(link.Collector, Repository.Collector, "serve", "--data", _workshop.CollectorData,
            "--listen", "off", "--plain-text", FaultyLink.CollectorAddress + ":7420", "--page", "off");
        collector.WaitForLine("ready");
        return collector;
    }

    private Running Work(FaultyLink link) => FaultyLink.Start(link.Board, Repository.Agent, "work",
        "--collector", $"http://{FaultyLink.CollectorAddress}:7420", "--board", "bench-1", "--data", _workshop.AgentData);

    private long Received()
    {
        using JsonDocument status = JsonDocument.Parse(_workshop.Collector("status", "--json").Expect(0).Output);
        return status.RootElement.GetProperty("recordsReceived").GetInt64();
    }
}
