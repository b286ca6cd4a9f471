using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Report;

namespace Cardassay.Collector.Tests.Report;

/// <summary>One card carried from board to board is in one place at a time, whatever the boards' clocks say.</summary>
public sealed class SightingClockTests
{
    [Theory]
    [InlineData(8, false)] // the second board's clock is 8 minutes slow: in truth the card came 4 minutes after the first run's end
    [InlineData(0, true)] // both clocks are right: the card was in both
    [InlineData(-2, true)]
    public void Standing_SecondBoardsClockOff_FindsTwoPlacesOnlyWhenTheyWereTwo(int offsetMinutes, bool isTwoPlaces)
    {
        MasterData data = SampleData.Build(cards: 1, nights: 2);
        RunRecord first = data.Runs[0];
        var length = TimeSpan.FromTicks(first.Trials.Sum(t => t.Trial.ElapsedNs) / 100);
        Assert.InRange(length.TotalMinutes, 6.5, 7.5);
        RunRecord second = data.Runs[1] with { OpenedAt = first.OpenedAt.AddMinutes(3), ClockOffset = TimeSpan.FromMinutes(offsetMinutes) };
        Assert.NotEqual(first.Board, second.Board);
        data = data with { Runs = [first, second] };

        CardStanding standing = CardStandings.Of(data, Analyser.Run(data, UseProfile.SystemDisk))["T-01"];

        Assert.Equal(isTwoPlaces, standing.Findings.Any(f => f.Id == "identity-in-two-places"));
    }
}
