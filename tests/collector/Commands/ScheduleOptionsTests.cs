using System.CommandLine;
using Cardassay.Collector.Commands;
using Cardassay.Collector.Hosting;

namespace Cardassay.Collector.Tests.Commands;

public sealed class ScheduleOptionsTests
{
    private static readonly ScheduleTimes Times = new(new(2031, 3, 13, 21, 15, 0, TimeSpan.Zero), TimeZoneInfo.Utc);

    [Fact]
    public void Until_Settled_RepeatsOnceANightUpToALimit()
    {
        V1.ScheduleEntry entry = Read("bench-1 --tag T-09 --until settled");
        Assert.Equal((true, false, 30u, false), (entry.UntilSettled, entry.UntilStop, entry.Repeat, entry.HasStopByUnixNs));
        Assert.Contains("once a night until its rank is settled, at most 30 times", ScheduleOptions.Words(entry, Times));
        Assert.Equal(5u, Read("bench-1 --tag T-09 --until settled --repeat 5").Repeat);
        Assert.True(Read("bench-1 --tag T-09 --until settled --stop-by 06:30") is { UntilSettled: true, HasStopByUnixNs: true });
    }

    [Fact]
    public void Until_Time_StopsThen()
    {
        V1.ScheduleEntry entry = Read("bench-1 --tag T-09 --until 06:30");
        Assert.Equal((false, true), (entry.UntilSettled, entry.UntilStop));
        Assert.Equal(new DateTimeOffset(2031, 3, 14, 6, 30, 0, TimeSpan.Zero), DateTimeOffset.UnixEpoch.AddTicks(entry.StopByUnixNs / 100));
    }

    [Fact]
    public void Until_AnythingElse_IsRefusedByItsName()
    {
        // Neither is a time nor the word; "Settled" must not be taken for one that is never reached.
        foreach (string word in new[] { "Settled", "done" })
        {
            Assert.Contains("--until", Assert.Throws<CommandException>(() => Read($"bench-1 --tag T-09 --until {word}")).Message);
        }
    }

    private static V1.ScheduleEntry Read(string line)
    {
        var options = new ScheduleOptions();
        var command = new Command("schedule");
        options.AddTo(command);
        return options.Read(command.Parse(line), Times)!;
    }
}
