using Cardassay.Agent.Conditions;

namespace Cardassay.Agent.Tests.Conditions;

public class BusStateTests
{
    [Fact]
    public void Parse_LegacyWithoutActualClock_LeavesItOut()
    {
        // Layout as drivers/mmc/core/debugfs.c prints it.
        BusState bus = BusState.Parse(
            "clock:\t\t25000000 Hz\nvdd:\t\t21 (3.3 ~ 3.4 V)\nbus mode:\t2 (push-pull)\nbus width:\t0 (1 bits)\ntiming spec:\t0 (legacy)\nsignal voltage:\t0 (3.30 V)");
        Assert.Equal(new BusState("legacy", 25_000_000, null, 1, "3.30 V"), bus);
    }

    [Theory]
    [InlineData("")]
    [InlineData("clock: Hz\nbus width: (bits)\ntiming spec:\t9\nsignal voltage: ()")]
    [InlineData("clock:\t\t99999999999999999999 Hz\nbus width:\t99 (99999999999 bits)\ntiming spec:\t99 (invalid)\nsignal voltage:\t9 (invalid)")]
    public void Parse_Junk_GivesNulls(string text) => Assert.Equal(new BusState(null, null, null, null, null), BusState.Parse(text));

    [Theory]
    [InlineData("# Command Timeout Occurred:\t 2\n# Data CRC Errors Occurred:\t 5", 7L)]
    [InlineData("# Command Timeout Occurred:\t 0", 0L)]
    [InlineData("nothing", null)]
    public void SumOfErrors_Text_IsSummed(string text, long? expected) => Assert.Equal(expected, BusState.SumOfErrors(text));

    [Theory]
    [InlineData("1 2 3 4 5 6 7", true)]
    [InlineData("1 2 3 4 5 6", false)]
    [InlineData("1 2 3 4 5 6 -7", false)]
    public void Counters_Line_NeedsSevenNumbers(string text, bool parses) => Assert.Equal(parses, DiskCounters.Parse(text) is not null);
}
