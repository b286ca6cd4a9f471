using Cardassay.Collector.Commands;
using Cardassay.Collector.Hosting;

namespace Cardassay.Collector.Tests.Commands;

public sealed class ScheduleTimesTests
{
    private static readonly DateTimeOffset Now = new(2031, 3, 13, 21, 15, 0, TimeSpan.Zero);
    private readonly ScheduleTimes _times = new(Now, TimeZoneInfo.Utc);

    [Theory]
    [InlineData("22:30", "2031-03-13T22:30:00Z")]
    [InlineData("06:30", "2031-03-14T06:30:00Z")]
    [InlineData("21:15", "2031-03-14T21:15:00Z")] // now is no time to come
    [InlineData("2031-03-15 00:05", "2031-03-15T00:05:00Z")]
    public void Parse_TimeOfDay_IsTheNextOne(string text, string expected) =>
        Assert.Equal(DateTimeOffset.Parse(expected, System.Globalization.CultureInfo.InvariantCulture), _times.Parse(text, "--from"));

    [Fact]
    public void Parse_StopAfterBegin_IsTheNextOneAfterIt()
    {
        DateTimeOffset begin = _times.Parse("2031-03-16 22:00", "--from");
        Assert.Equal(new DateTimeOffset(2031, 3, 17, 6, 30, 0, TimeSpan.Zero), _times.Parse("06:30", "--stop-by", begin));
    }

    [Theory]
    [InlineData("25:00")]
    [InlineData("6.30")]
    [InlineData("tomorrow")]
    [InlineData("")]
    public void Parse_Nonsense_NamesTheOptionAndTheWayToSayIt(string text)
    {
        CommandException e = Assert.Throws<CommandException>(() => _times.Parse(text, "--stop-by"));
        Assert.Contains("--stop-by", e.Message, StringComparison.Ordinal);
        Assert.Contains("22:30", e.Message, StringComparison.Ordinal);
        Assert.Equal(2, e.ExitCode);
    }

    [Theory]
    [InlineData("22:30", "22:30 UTC")]
    [InlineData("06:30", "tomorrow 06:30 UTC")]
    [InlineData("21:00", "tomorrow 21:00 UTC")] // has passed today
    [InlineData("2031-03-15 00:05", "15 Mar 00:05 UTC")]
    public void Whole_SaysTomorrowWhenItMeansTomorrow(string text, string said) =>
        Assert.Equal(said, _times.Whole(UnixNs(_times.Parse(text, "--from"))));

    [Fact]
    public void Parse_InAZoneOfItsOwn_IsThatZonesTime()
    {
        TimeZoneInfo zone = TimeZoneInfo.CreateCustomTimeZone("t", TimeSpan.FromHours(3), "t", "t");
        var times = new ScheduleTimes(Now, zone); // 00:15 on the 14th there
        Assert.Equal(new DateTimeOffset(2031, 3, 14, 6, 30, 0, TimeSpan.FromHours(3)), times.Parse("06:30", "--from"));
        Assert.Equal("UTC+03:00", times.Zone);
        Assert.Equal("00:15", times.Text(UnixNs(Now)));
        Assert.Equal("00:15 UTC+03:00", times.Whole(UnixNs(Now)));
        Assert.Equal("2031-03-14 00:15:00 UTC+03:00", times.Stamp(UnixNs(Now)));
    }

    [Fact]
    public void Text_AfterTheClocksWereChanged_BearsItsOwnZone()
    {
        // Put forward by an hour on 14 March at 01:00, as people do in many places in the night.
        TimeZoneInfo.AdjustmentRule rule = TimeZoneInfo.AdjustmentRule.CreateAdjustmentRule(
            new DateTime(2031, 1, 1),
            new DateTime(2031, 12, 31),
            TimeSpan.FromHours(1),
            TimeZoneInfo.TransitionTime.CreateFixedDateRule(new DateTime(1, 1, 1, 1, 0, 0), 3, 14),
            TimeZoneInfo.TransitionTime.CreateFixedDateRule(new DateTime(1, 1, 1, 1, 0, 0), 10, 26));
        var times = new ScheduleTimes(Now, TimeZoneInfo.CreateCustomTimeZone("t", TimeSpan.FromHours(1), "t", "t", "t", [rule]));

        Assert.Equal("UTC+01:00", times.Zone);
        Assert.Equal("22:30", times.Text(UnixNs(Now.AddMinutes(15))));
        Assert.Equal("05:15 UTC+02:00", times.Text(UnixNs(Now.AddHours(6))));
    }

    private static long UnixNs(DateTimeOffset moment) => (moment - DateTimeOffset.UnixEpoch).Ticks * 100;
}
