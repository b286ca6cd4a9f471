using Cardassay.Trials;

namespace Cardassay.SharedCore.Tests.Trials;

public class NightTests
{
    // ISO 8601 instants; a night runs from noon to noon UTC.
    [Theory]
    [InlineData("2031-03-13T12:00:00Z", "2031-03-13")]
    [InlineData("2031-03-14T11:59:59Z", "2031-03-13")]
    [InlineData("2031-03-14T12:00:00Z", "2031-03-14")]
    [InlineData("2031-03-14T13:00:00+02:00", "2031-03-13")]
    public void Of_AMoment_IsTheDayTheNightBegan(string moment, string night)
    {
        DateOnly of = Night.Of(DateTimeOffset.Parse(moment, System.Globalization.CultureInfo.InvariantCulture));
        Assert.Equal(DateOnly.Parse(night, System.Globalization.CultureInfo.InvariantCulture), of);
        Assert.Equal(of, Night.Of(Night.BeginOf(of)));
    }
}
