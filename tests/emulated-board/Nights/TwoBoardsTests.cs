using System.Text.Json.Nodes;
using Cardassay.EmulatedBoard.Harness;

namespace Cardassay.EmulatedBoard.Nights;

/// <summary>Two boards measure at the same time, and their cards say that they are the same card.</summary>
public sealed class TwoBoardsTests
{
    [SkippableFact]
    public async Task Measure_OneIdentityInTwoBoardsAtOnce_IsFoundAsClone()
    {
        HostTools.Require();
        await using CollectorProcess collector = await CollectorProcess.StartAsync();
        await using Guest first = await StartAsync("harbour-1");
        await using Guest second = await StartAsync("harbour-2");

        await Task.WhenAll(
            first.RunAsync("measure", "mmcblk0", "T-01", EmulatedIdentity.Text, "short", collector.AddressInGuest),
            second.RunAsync("measure", "mmcblk0", "T-02", EmulatedIdentity.Text, "short", collector.AddressInGuest));

        JsonNode report = await collector.AskAsync("report");
        foreach (string tag in new[] { "T-01", "T-02" })
        {
            JsonNode card = report["cards"]!.AsArray().Single(c => c!["tag"]!.GetValue<string>() == tag)!;
            JsonNode finding = card["findings"]!.AsArray().Single(f => f!["id"]!.GetValue<string>() == "identity-in-two-places")!;
            Assert.Equal("contradiction", finding["severity"]!.GetValue<string>());
            Assert.Contains("harbour-1", finding.ToJsonString(), StringComparison.Ordinal);
            Assert.Contains("harbour-2", finding.ToJsonString(), StringComparison.Ordinal);
        }
    }

    private static async Task<Guest> StartAsync(string name) => await Guest.StartAsync(new GuestSetup
    {
        Name = name,
        Slots = [CardImage.Create(64 << 20)],
        Disk = await GuestDisk.CreateAsync(256 << 20),
        Network = true,
    });
}
