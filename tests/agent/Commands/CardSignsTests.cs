using Cardassay.Agent.Commands;
using State = Cardassay.V1.CardStep.Types.State;

namespace Cardassay.Agent.Tests.Commands;

/// <summary>What stands on the console and what an LED shows of the cards of a standing order.</summary>
public sealed class CardSignsTests : IDisposable
{
    private readonly DirectoryInfo _root = Directory.CreateTempSubdirectory("cardassay-led-");
    private readonly List<string> _told = [];

    public CardSignsTests()
    {
        Directory.CreateDirectory(Led);
        File.WriteAllText(Path.Combine(Led, "max_brightness"), "255\n");
        File.WriteAllText(Path.Combine(Led, "brightness"), "1\n");
        File.WriteAllText(Path.Combine(Led, "trigger"), "none [heartbeat]\n");
    }

    private string Led => Path.Combine(_root.FullName, "sys/class/leds/green:status");

    private string Brightness => File.ReadAllText(Path.Combine(Led, "brightness"));

    [Fact]
    public void Show_EachChange_IsToldOnce()
    {
        CardSigns signs = new(null, (_, text) => _told.Add(text));
        V1.CardStep waits = Step("mmcblk0", "", State.NoSticker, "looked at; say which card it is");
        signs.Show([waits]);
        signs.Show([waits]);
        signs.Show([waits, Step("mmcblk1", "T-02", State.Measuring, "system-disk, 0 runs made")]);
        signs.Show([]);
        signs.Show([waits]); // put in again
        Assert.Equal(["mmcblk0: sd-a, looked at; say which card it is", "mmcblk1: T-02, system-disk, 0 runs made", "mmcblk0: sd-a, looked at; say which card it is"], _told);
    }

    [Fact]
    public void Led_SaysWhetherACardMayBeTakenOutOrWaitsForAPerson()
    {
        CardSigns signs = new(BoardLed.Take(_root.FullName, "green:status"), (_, text) => _told.Add(text));
        Assert.Equal(("none", "0"), (File.ReadAllText(Path.Combine(Led, "trigger")), Brightness));
        signs.Show([Step("mmcblk0", "T-01", State.Measuring, "")]);
        signs.Blink();
        Assert.Equal("0", Brightness);
        signs.Show([Step("mmcblk0", "T-01", State.NoConsent, "")]);
        signs.Blink();
        Assert.Equal("255", Brightness);
        signs.Blink();
        Assert.Equal("0", Brightness);
        signs.Show([Step("mmcblk0", "T-01", State.Done, ""), Step("mmcblk1", "", State.NoSticker, "")]);
        signs.Blink();
        Assert.Equal("255", Brightness);
        signs.End();
        Assert.Equal("0", Brightness);
    }

    [Fact]
    public void Led_ThatIsNotThere_IsRefusedWithThoseThatAre()
    {
        CommandException refusal = Assert.Throws<CommandException>(() => BoardLed.Take(_root.FullName, "red"));
        Assert.Contains("it has green:status", refusal.Message, StringComparison.Ordinal);
        Assert.Throws<CommandException>(() => BoardLed.Take(_root.FullName, "../leds/green:status"));
    }

    [Fact]
    public void Led_ThatGoesAway_IsToldOnceAndTheWorkGoesOn()
    {
        CardSigns signs = new(BoardLed.Take(_root.FullName, "green:status"), (_, text) => _told.Add(text));
        _root.Delete(recursive: true);
        signs.Show([Step("mmcblk0", "T-01", State.NoConsent, "waits")]);
        signs.Blink();
        signs.Blink();
        Assert.Single(_told, t => t.StartsWith("the LED shows nothing from here on", StringComparison.Ordinal));
    }

    public void Dispose()
    {
        if (Directory.Exists(_root.FullName))
        {
            _root.Delete(recursive: true);
        }
    }

    private static V1.CardStep Step(string disk, string card, State state, string text) => new() { Board = "bench-1", DiskName = disk, Card = card, Identity = "sd-a", State = state, Text = text };
}
