using System.Diagnostics;
using System.Globalization;
using System.Text.Json.Nodes;
using Cardassay.EmulatedBoard.Harness;
using Cardassay.EmulatedBoard.Registers;
using Cardassay.Identity;
using Cardassay.Registers;
using Xunit.Abstractions;

namespace Cardassay.EmulatedBoard.Nights;

/// <summary>
/// Twelve cards of the weather stations on Tarrow, two at a time through the two slots of one board with a standing order: each is put in, scanned and
/// consented to at a terminal, and measured. One keeps less than it says, one is the clone of another, one is pulled out in its run. One report.
/// </summary>
public sealed class ShoeboxTests(ITestOutputHelper output)
{
    private const int Cards = 12;
    private const int Lying = 3;
    private const int Cloned = 4; // by the next one, which is in at the same time
    private const int Pulled = 7;
    private const long Claimed = 64 << 20;
    private const long Kept = 20 << 20;
    private static readonly string[] s_disks = ["mmcblk0", "mmcblk1"];

    [SkippableFact]
    public async Task Evening_TwelveCardsThroughTwoSlots_AreReceivedMeasuredAndReported()
    {
        HostTools.Require();
        await using CollectorProcess collector = await CollectorProcess.StartAsync();
        await using NbdCard liar = new(Claimed, Kept, PastTheEnd.Drop);
        await using Guest board = await Guest.StartAsync(new GuestSetup
        {
            Slots = [CardImage.Create(32 << 20), CardImage.Create(32 << 20)], // are taken out before anything begins
            Disk = await GuestDisk.CreateAsync(256 << 20),
            Network = true,
        });
        await board.PullCardAsync(0);
        await board.PullCardAsync(1);
        string purchase = WorkFolder.NewPath("purchase") + ".csv";
        await File.WriteAllLinesAsync(
            purchase,
            [
                "tag,maker,product,labelGigabytes,price,currency,condition",
                .. Enumerable.Range(0, Cards).Select(i => string.Create(CultureInfo.InvariantCulture, $"{Tag(i)},Halvorn,Harbour,{(i == Lying ? "0.064" : "0.032")},{9 + i}.50,EUR,new")),
            ]);
        await board.RunAsync("begin-work", collector.AddressInGuest);
        await AwaitBoardAsync(collector);
        await collector.RunAsync("schedule", "harbour-1", "--any-card", "--plan", Plan("shoebox"), "--look", Plan("shoebox-look"));

        int keys = 0;
        var talking = new Stopwatch();
        for (int first = 0; first < Cards; first += 2)
        {
            int[] pair = [first, first + 1];
            CardMedium[] media = [.. pair.Select(i => i == Lying ? (CardMedium)liar : CardImage.Create(32 << 20))];
            await PutInAsync(board, pair, media);
            await AwaitAsync(collector, steps => steps.Select(s => s["identity"]!.GetValue<string>()).Order(StringComparer.Ordinal).SequenceEqual(pair.Select(i => CardIdentity.FromCid(Cid.Parse(CidOf(i)).Value!).Text).Order(StringComparer.Ordinal)));

            // The stickers are scanned, which types them and Enter; their rows of the purchase are found, and `y` and Enter consent.
            string typed = string.Concat(pair.Select(i => $"{Tag(i)}\ny\n"));
            keys += typed.Length - pair.Sum(i => Tag(i).Length + 1);
            talking.Start();
            string said = await collector.TypeAsync(typed, "cards", "receive", "--once", "--claims", purchase);
            talking.Stop();
            output.WriteLine(said);
            Assert.Contains("2 cards taken in.", said, StringComparison.Ordinal);
            if (pair.Contains(Pulled))
            {
                int slot = Array.IndexOf(pair, Pulled);
                await AwaitAsync(collector, steps => Step(steps, slot) is { } step && step["state"]!.GetValue<string>() == "Measuring" && step["running"]?.GetValue<bool>() == true);
                await board.PullCardAsync(slot);
                await AwaitAsync(collector, steps => Step(steps, slot) is null);
                await PutInAsync(board, [Pulled], [media[slot]], slot);
            }

            await AwaitAsync(collector, steps => steps.Count() == 2 && steps.All(s => s["state"]!.GetValue<string>() is "Resting" or "Done"));
            await board.PullCardAsync(0);
            await board.PullCardAsync(1);
            await AwaitAsync(collector, steps => !steps.Any());
        }

        output.WriteLine(string.Create(
            CultureInfo.InvariantCulture, $"{(double)keys / Cards:0.#} keys a card beyond scanning its sticker; the terminal took {talking.Elapsed.TotalSeconds / Cards:0.0} s a card"));
        Assert.InRange((double)keys / Cards, 1, 10);
        AssertReport(await collector.AskAsync("report"), (await collector.AskAsync("schedule"))["entries"]!.AsArray());
    }

    private static void AssertReport(JsonNode report, JsonArray entries)
    {
        JsonNode[] cards = [.. report["cards"]!.AsArray().Select(c => c!)];
        Assert.Equal(Enumerable.Range(0, Cards).Select(Tag), cards.Select(c => c["tag"]!.GetValue<string>()).Order(StringComparer.Ordinal));
        foreach (int card in Enumerable.Range(0, Cards))
        {
            JsonNode one = cards.Single(c => c["tag"]!.GetValue<string>() == Tag(card));
            Assert.True((one["verdict"]!.GetValue<string>() == "not as claimed") == (card == Lying), $"{Tag(card)}: {one["verdict"]}");
            bool isTwin = one["findings"]!.AsArray().Any(f => f!["id"]!.GetValue<string>() == "identity-under-two-tags");
            Assert.True(isTwin == card is Cloned or Cloned + 1, $"{Tag(card)}: {one["findings"]}");
        }

        Assert.Equal((0, 0), (report["integrity"]!["gaps"].AsLong(), report["integrity"]!["conflicts"].AsLong()));
        Assert.Contains(entries, e => e!["state"]!.GetValue<string>() == "standing");
    }

    private static string Tag(int card) => string.Create(CultureInfo.InvariantCulture, $"T-{card + 1:00}");

    private static string Plan(string name) => Repository.At("tests", "emulated-board", "plans", name + ".json");

    /// <summary>A CID of its own for each card, made from a public read-out by another product name, serial number and checksum; the clone has that of the card before it.</summary>
    private static string CidOf(int card)
    {
        byte[] cid = Convert.FromHexString(PresentedVector.All[3].Cid);
        "HARBR"u8.CopyTo(cid.AsSpan(3)); // the product's name, which states no capacity that these small cards do not have
        cid[12] = (byte)(card == Cloned + 1 ? Cloned : card); // the last byte of the serial number
        cid[15] = (byte)((Crc7.Of(cid.AsSpan(0, 15)) << 1) | 1);
        return Convert.ToHexStringLower(cid);
    }

    private static JsonNode? Step(IEnumerable<JsonNode> steps, int slot) => steps.FirstOrDefault(s => s["diskName"]!.GetValue<string>() == s_disks[slot]);

    private static async Task PutInAsync(Guest board, int[] cards, CardMedium[] media, int firstSlot = 0)
    {
        Scenario scenario = await board.BeginAsync("put-in", [.. cards.Select((card, i) => $"{s_disks[firstSlot + i]}={CidOf(card)}")]);
        await scenario.ReachAsync("held");
        for (int i = 0; i < media.Length; i++)
        {
            await board.InsertCardAsync(firstSlot + i, media[i]);
        }

        await scenario.SucceedAsync();
    }

    private static async Task AwaitBoardAsync(CollectorProcess collector)
    {
        using CancellationTokenSource late = new(Hang.Limit);
        while ((await collector.AskAsync("boards"))["boards"]?.AsArray().Any(b => b!["name"]!.GetValue<string>() == "harbour-1") != true)
        {
            await Task.Delay(CollectorProcess.BetweenQuestions, late.Token);
        }
    }

    private static async Task AwaitAsync(CollectorProcess collector, Func<IEnumerable<JsonNode>, bool> holds)
    {
        using CancellationTokenSource late = new(Hang.Limit);
        while (true)
        {
            JsonNode schedule = await collector.AskAsync("schedule");
            if (holds((schedule["steps"]?.AsArray() ?? []).Select(s => s!)))
            {
                return;
            }

            if (late.IsCancellationRequested)
            {
                throw new InvalidOperationException($"the cards did not come to it: {schedule.ToJsonString()}");
            }

            await Task.Delay(CollectorProcess.BetweenQuestions);
        }
    }
}
