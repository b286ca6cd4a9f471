using System.Security.Cryptography;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Notices;
using Cardassay.Collector.Storage;
using Cardassay.Collector.Tests.Report;
using Cardassay.Trials;
using Cardassay.Wire;

namespace Cardassay.Collector.Tests.Notices;

public sealed class RunWatchTests
{
    private static readonly DateTimeOffset Start = new(2031, 3, 13, 22, 0, 0, TimeSpan.Zero);
    private static readonly TimeSpan Limit = TimeSpan.FromMinutes(15);
    private readonly SetClock _clock = new(Start);
    private readonly RunRecord _run = SampleData.Build(cards: 1, nights: 1).Runs[0];
    private long _sequence;

    [Fact]
    public void Due_RunThatEnds_IsToldOnce()
    {
        RunWatch watch = Empty();
        watch.Take([Record(_run.Opened), Record(_run.Trials[0].Trial), Record(Closed(RunOutcome.Completed))]);
        Notice notice = Assert.Single(watch.Due(Limit));
        Assert.Equal(NoticeKind.Finished, notice.Kind);
        Assert.Contains("1 trials were measured", notice.Text, StringComparison.Ordinal);
        Assert.Empty(watch.Due(Limit));
        watch.Take([Record(Closed(RunOutcome.Completed))]); // the board sends it again under a new key
        Assert.Empty(watch.Due(Limit));
    }

    [Fact]
    public void Due_SilentRun_IsStalledAfterTheLimitAndAnySignOfLifePutsItOff()
    {
        RunWatch watch = Empty();
        watch.Take([Record(_run.Opened)]);
        _clock.Now = Start + Limit;
        Assert.Empty(watch.Due(Limit));
        _clock.Now = Start + Limit + TimeSpan.FromSeconds(1);
        Notice notice = Assert.Single(watch.Due(Limit));
        Assert.Equal(NoticeKind.Stalled, notice.Kind);
        Assert.Equal(notice.Key, Assert.Single(watch.Due(Limit)).Key); // the outbox sends one key once

        watch.Take([Record(_run.Trials[0].Trial)]);
        Assert.Empty(watch.Due(Limit));
        _clock.Now += TimeSpan.FromMinutes(14);
        watch.Moved(_run.Board);
        _clock.Now += TimeSpan.FromMinutes(14);
        Assert.Empty(watch.Due(Limit));
        _clock.Now += TimeSpan.FromMinutes(2);
        Assert.NotEqual(notice.Key, Assert.Single(watch.Due(Limit)).Key); // silent once more: another message
    }

    [Fact]
    public void Due_RunsOfEarlierNights_AreOfNoInterest()
    {
        MasterData data = SampleData.Build(cards: 2, nights: 1);
        var watch = new RunWatch(data with { Runs = [.. data.Runs.Select(r => r with { Closed = null })] }, [], _clock);
        _clock.Now = data.AsOf.AddDays(2);
        Assert.Empty(watch.Due(Limit));
    }

    [Fact]
    public void Due_RunThatEndedWhileNobodyLooked_IsToldAfterTheRestart()
    {
        string id = Convert.ToHexStringLower(_run.Opened.RunId.ToBytes());
        MasterData data = SampleData.Build(cards: 1, nights: 1);
        data = data with { Runs = [data.Runs[0] with { Closed = Closed(RunOutcome.Interrupted) }] };
        Notice notice = Assert.Single(new RunWatch(data, [id], _clock).Due(Limit));
        Assert.Contains("interrupted (the card was pulled)", notice.Text, StringComparison.Ordinal);
        Assert.Empty(new RunWatch(data, [], _clock).Due(Limit));
    }

    [Theory]
    [InlineData("2031-03-14T06:30:00Z", "Etc/UTC", "2031-03-13")]
    [InlineData("2031-03-14T11:59:00Z", "Etc/UTC", "2031-03-13")]
    [InlineData("2031-03-14T12:01:00Z", "Etc/UTC", "2031-03-13")]
    [InlineData("2031-03-14T23:00:00Z", "Etc/UTC", "2031-03-13")]
    [InlineData("2031-03-15T01:00:00Z", "Etc/UTC", "2031-03-14")]
    [InlineData("2031-03-14T22:00:00Z", "Etc/GMT-9", "2031-03-14")] // seven in the morning of the 15th there; it began at 21:00 there, 12:00 UTC
    [InlineData("2031-03-14T15:00:00Z", "Etc/GMT+8", "2031-03-13")] // seven in the morning of the 14th there; it began at 21:00 there, 05:00 UTC
    [InlineData("2031-03-14T18:00:00Z", "Etc/GMT-13", "2031-03-13")] // seven in the morning of the 15th there; it began at 21:00 there, 08:00 UTC
    public void LastNight_Moments_IsTheOneBeforeThatMorningWhereThePersonIs(string now, string zone, string night) =>
        Assert.Equal(DateOnly.Parse(night), DeadMan.LastNight(DateTimeOffset.Parse(now), TimeZoneInfo.FindSystemTimeZoneById(zone)));

    [Fact]
    public void Problem_NightWithoutARun_IsOneAndANightWithOneIsNone()
    {
        MasterData data = SampleData.Build(cards: 1, nights: 1);
        Assert.Null(DeadMan.Problem(data, DateOnly.Parse("2031-03-12")));
        Assert.Contains("2031-03-13", DeadMan.Problem(data, DateOnly.Parse("2031-03-13")), StringComparison.Ordinal);
    }

    [Fact]
    public void PersonNotice_SameMatterWithAnotherCount_IsNotNew()
    {
        string[] known = [NoticeService.KeyOf("T-1: 3 trials are invalid.")];
        Assert.Null(NoticeService.PersonNotice(["T-1: 4 trials are invalid."], known, Start));
        Assert.NotNull(NoticeService.PersonNotice(["T-2: 3 trials are invalid."], known, Start)); // the same of another card is news
        Notice notice = NoticeService.PersonNotice(["T-1: 4 trials are invalid.", "Swap the card.", "Look at the fan."], known, Start)!;
        Assert.Equal("2 things need you", notice.Title);
        Assert.DoesNotContain("invalid", notice.Text, StringComparison.Ordinal);
    }

    private RunWatch Empty() => new(new MasterData { AsOf = Start }, [], _clock);

    private RunClosed Closed(RunOutcome outcome) => new()
    {
        RunId = _run.Opened.RunId, Outcome = outcome, Reason = outcome == RunOutcome.Completed ? null : "the card was pulled", BytesWritten = 1_000_000_000,
    };

    private StoredRecord Record(Observation observation)
    {
        byte[] payload = ObservationCodec.Encode(observation);
        return new StoredRecord
        {
            Key = new RecordKey(new string('a', 32), ++_sequence), Board = _run.Board, BootId = "", Payload = payload, Hash = SHA256.HashData(payload),
        };
    }
}
