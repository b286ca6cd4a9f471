using System.Diagnostics;
using Cardassay.EmulatedBoard.Harness;
using Cardassay.SharedCore.Tests.Service;

namespace Cardassay.Packages.Tests;

/// <summary>
/// The services before a stand-in of the service manager: alive only while work goes on. The standstill is a real one, a frozen
/// file system: its writes do not come back (`fsfreeze(8)`).
/// </summary>
public sealed class StandstillTests
{
    /// <summary>What the manager is told to allow; the agent speaks three times within it, at most.</summary>
    private const string WatchdogMicroseconds = "3000000";

    private const string Plan = """
        { "name": "long", "version": "1", "repetitions": 1, "regionBytes": "16 MiB", "steps": [ { "kind": "randomWrite", "seconds": 300, "bytes": "512 GiB" } ] }
        """;

    private static readonly TimeSpan Long = TimeSpan.FromSeconds(90);

    /// <summary>Three heartbeats of the delivery, which come every 10 s and are no progress of the run.</summary>
    private static readonly TimeSpan Standstill = TimeSpan.FromSeconds(35);

    [SkippableFact]
    public async Task Work_WhoseWritesDoNotComeBack_IsNotAliveUntilTheyDo()
    {
        Tools.Require("losetup", "mkfs.ext4", "mount", "fsfreeze");
        Skip.IfNot(Environment.IsPrivilegedProcess, "mounting a file system needs root");
        string folder = Directory.CreateDirectory($"/var/tmp/cardassay-still-{Guid.NewGuid():N}").FullName;
        using var socket = new NotifySocket();
        await using CollectorProcess collector = await CollectorProcess.StartAsync();
        try
        {
            string card = await MountAsync(folder);
            File.WriteAllText(Path.Combine(folder, "long.json"), Plan);
            await collector.RunAsync("invite", "harbour-1", "--address", "127.0.0.1:7420"); // so that the collector knows its name
            await collector.RunAsync("schedule", "harbour-1", card, "--plan", Path.Combine(folder, "long.json"), "--repeat", "1");
            using Process agent = Start(
                socket, "work", "--data", Path.Combine(folder, "agent"), "--board", "harbour-1",
                "--collector", collector.AddressInGuest.Replace("10.0.2.2", "http://127.0.0.1", StringComparison.Ordinal));
            try
            {
                Assert.StartsWith("READY=1\nSTATUS=", socket.Next(Long), StringComparison.Ordinal);
                await AwaitLineAsync(agent, "writing and checking");
                await Task.Delay(TimeSpan.FromSeconds(3)); // 16 MiB; then the trial runs for minutes
                socket.Drain();
                Assert.Equal("WATCHDOG=1", socket.Next(Long));

                (await Ran.ItAsync("fsfreeze", "--freeze", card)).Expect(0);
                try
                {
                    await Task.Delay(TimeSpan.FromSeconds(4)); // what had come back before
                    socket.Drain();

                    // What was done before the freeze may be told of once, with the delivery's next heartbeat; then never again.
                    int told = 0;
                    long began = Stopwatch.GetTimestamp();
                    while (Stopwatch.GetElapsedTime(began) < Standstill)
                    {
                        told += socket.Next(Standstill - Stopwatch.GetElapsedTime(began)) is null ? 0 : 1;
                    }

                    Assert.InRange(told, 0, 1);
                }
                finally
                {
                    (await Ran.ItAsync("fsfreeze", "--unfreeze", card)).Expect(0);
                }

                Assert.Equal("WATCHDOG=1", socket.Next(Long));
            }
            finally
            {
                agent.Kill();
                await agent.WaitForExitAsync();
            }
        }
        finally
        {
            await Ran.ItAsync("umount", Path.Combine(folder, "card"));
            Directory.Delete(folder, recursive: true);
        }
    }

    [Fact]
    public async Task Work_WithoutCollector_IsReadyAndAliveAndSaysWhenItEnds()
    {
        string folder = WorkFolder.NewPath("agent");
        using var socket = new NotifySocket();
        using Process agent = Start(socket, "work", "--data", folder, "--collector", "http://127.0.0.1:9");
        try
        {
            Assert.StartsWith("READY=1\nSTATUS=", socket.Next(Long), StringComparison.Ordinal);
            Assert.Equal("WATCHDOG=1", socket.Next(Long));
            (await Ran.ItAsync("kill", "-TERM", agent.Id.ToString(System.Globalization.CultureInfo.InvariantCulture))).Expect(0);
            string? last = null;
            while (last != "STOPPING=1")
            {
                last = socket.Next(Long);
                Assert.NotNull(last);
            }

            await agent.WaitForExitAsync();
            Assert.Equal(0, agent.ExitCode);
        }
        finally
        {
            agent.Kill();
        }
    }

    private static Process Start(NotifySocket socket, params string[] arguments)
    {
        var start = new ProcessStartInfo("dotnet", [BuiltPrograms.Agent, .. arguments]) { RedirectStandardError = true };
        start.Environment["NOTIFY_SOCKET"] = socket.Address;
        start.Environment["WATCHDOG_USEC"] = WatchdogMicroseconds;
        return Process.Start(start)!;
    }

    private static async Task AwaitLineAsync(Process agent, string text)
    {
        using var late = new CancellationTokenSource(Long);
        while (await agent.StandardError.ReadLineAsync(late.Token) is { } line)
        {
            if (line.Contains(text, StringComparison.Ordinal))
            {
                _ = agent.StandardError.ReadToEndAsync(CancellationToken.None);
                return;
            }
        }

        Assert.Fail($"the agent ended without a line with \"{text}\"");
    }

    private static async Task<string> MountAsync(string folder)
    {
        string image = Path.Combine(folder, "card.img");
        using (FileStream file = File.Create(image))
        {
            file.SetLength(128 << 20);
        }

        (await Ran.ItAsync("mkfs.ext4", "-q", "-F", image)).Expect(0);
        string card = Directory.CreateDirectory(Path.Combine(folder, "card")).FullName;
        (await Ran.ItAsync("mount", "-o", "loop", image, card)).Expect(0);
        return card;
    }
}
