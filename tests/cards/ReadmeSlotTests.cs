using System.Text.Json;
using Cardassay.Agent.Sysfs;
using Cardassay.EndToEnd.Tests;
using Cardassay.Fixtures;
using Xunit.Abstractions;

namespace Cardassay.Cards.Tests;

/// <summary>
/// What README.md says of cards in slots, typed from the file: a collector, and an agent as board "bench-1" with a served card in its slot. The first three
/// commands of the page are typed on an emulated board (tests/emulated-board), where the packages are installed.
/// </summary>
public sealed class ReadmeSlotTests(ITestOutputHelper output) : IDisposable
{
    private readonly Workshop _workshop = new();

    [SkippableFact]
    public async Task CommandsForCardsInSlots_TypedAsPrinted_AreTaken()
    {
        ServedCard.SkipWhereImpossible();
        Instruction[] typed =
        [
            .. InstructionFile.Read(Path.Combine(Repository.Root, "README.md"))
                .Where(i => i.Where == "card" && !i.Heading.StartsWith("A verdict on one card", StringComparison.Ordinal)),
        ];
        Assert.Equal(7, typed.Length);
        using var card = new SlottedCard($"size={16L << 30}"); // sparse: nothing of it is kept but what is written
        string identity = CardSighting.Take(card.Tree, "mmcblk1")!.Identity.Text;
        (Running collector, string address, _) = _workshop.Serve();
        using (collector)
        {
            using var agent = Running.Start(
                Repository.Agent, "work", "--collector", address, "--board", "bench-1", "--data", _workshop.AgentData, "--sysfs", card.Tree.Root);
            Assert.True(SpinWait.SpinUntil(() => _workshop.Collector("boards").Output.Contains("bench-1", StringComparison.Ordinal), TimeSpan.FromMinutes(1)), "the board never came");
            await using var shell = Shell.Start(output.WriteLine, ["bash"], _workshop.Root, new Dictionary<string, string?>
            {
                ["CARDASSAY_DATA"] = _workshop.CollectorData,
                ["PATH"] = Path.GetDirectoryName(Repository.Collector) + ":" + Environment.GetEnvironmentVariable("PATH"),
            });
            string sticker = "";
            foreach (Instruction instruction in typed)
            {
                // The page's slot is this board's mmcblk1.
                string command = instruction.Command.Replace("IDENTITY", identity, StringComparison.Ordinal).Replace("mmcblk0", "mmcblk1", StringComparison.Ordinal);
                if (command.Contains("cards receive", StringComparison.Ordinal))
                {
                    command = "printf 'T-09\\n\\n' | " + command; // the sticker, and no consent
                }

                Typed said = await shell.TypeAsync(command);
                Assert.True(said.ExitCode == 0, $"README.md line {instruction.Line}: exit {said.ExitCode}: {command}\n{said.Printed}");
                sticker = command.Contains("receive", StringComparison.Ordinal) ? "T-09" : command.Contains("--tag T-11", StringComparison.Ordinal) ? "T-11" : sticker;
                Assert.Contains(sticker, _workshop.Collector("cards").Expect(0).Output, StringComparison.Ordinal);
            }

            string schedule = _workshop.Collector("schedule", "--json").Expect(0).Output;
            output.WriteLine(schedule);
            JsonElement[] entries = [.. JsonDocument.Parse(schedule).RootElement.GetProperty("entries").EnumerateArray().Select(e => e.GetProperty("entry"))];
            Assert.Equal(["T-09", "T-10"], entries.Select(e => e.GetProperty("tag").GetString()).Order(StringComparer.Ordinal));
            Assert.All(entries, e => Assert.Equal(identity, e.GetProperty("eraseIdentity").GetString()));
        }
    }

    public void Dispose() => _workshop.Dispose();
}
