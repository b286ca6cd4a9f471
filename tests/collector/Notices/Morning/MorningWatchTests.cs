using Cardassay.Collector.Analysis;
using Cardassay.Collector.Commands;
using Cardassay.Collector.Notices;
using Cardassay.Collector.Notices.Morning;
using Cardassay.Collector.Storage;
using Cardassay.Collector.Tests.Report;
using Microsoft.Extensions.Logging.Abstractions;

namespace Cardassay.Collector.Tests.Notices.Morning;

/// <summary>Days of a clock that is set, over restarts; what goes out is counted at the way it takes.</summary>
public sealed class MorningWatchTests : IDisposable
{
    private static readonly DateTimeOffset Morning = new(2031, 3, 14, 7, 0, 0, TimeSpan.Zero);
    private readonly string _data = Directory.CreateTempSubdirectory("cardassay-morning-").FullName;
    private readonly SetClock _clock = new(Morning.AddMinutes(-1));
    private readonly Reports _reports = new();
    private readonly Way _folder = new("folder /srv/x");
    private readonly Way _mail = new("mail");
    private MorningSettings _settings = new() { At = new TimeOnly(7, 0), Folders = ["/srv/x"], Mail = true };
    private MorningWatch _watch = null!;
    private NoticeOutbox _outbox = null!;
    private long _applied;

    public MorningWatchTests() => Restart();

    [Fact]
    public async Task LookAsync_MorningComes_SendsOnceByEveryWayOverRestarts()
    {
        await TickAsync();
        Assert.Empty(_folder.Taken);
        _clock.Now = Morning;
        await TickAsync();
        await TickAsync();
        Restart();
        _clock.Now = Morning.AddHours(3);
        await TickAsync(news: true);
        Assert.Equal(["morning-2031-03-13"], _folder.Taken);
        Assert.Equal(["morning-2031-03-13"], _mail.Taken);
        Assert.Equal(1, _reports.Made);
        Assert.Empty(Directory.GetFiles(Path.Combine(_data, MorningShelf.Name), "*.report.json")); // taken by all: nothing is kept
    }

    [Fact]
    public async Task LookAsync_CollectorThatWasDownAtThatTime_SendsAtItsStartOnce()
    {
        _clock.Now = Morning.AddHours(8);
        await TickAsync();
        Restart();
        await TickAsync(news: true);
        Assert.Equal(["morning-2031-03-13"], _mail.Taken);
    }

    [Fact]
    public async Task LookAsync_DownOverAWholeMorning_SendsThatNightAtTheStartOfTheNextDay()
    {
        _clock.Now = Morning.AddDays(-1);
        await TickAsync(); // 2031-03-12
        Restart();
        _clock.Now = Morning.AddDays(1).AddHours(-1); // the 15th before seven: the 14th was missed
        await TickAsync();
        Assert.Equal(["morning-2031-03-12", "morning-2031-03-13"], _mail.Taken);
    }

    [Fact]
    public async Task LookAsync_NightThatIsDeliveredLate_IsSentWhenItIsThere()
    {
        _reports.Data = SampleData.Build(cards: 3, nights: 1, repetitions: 2);
        _clock.Now = Morning;
        await TickAsync();
        _clock.Now = Morning.AddMinutes(20);
        await TickAsync(); // nothing came in: nothing is computed
        Assert.Equal(1, _reports.Made);
        _reports.Data = Reports.TwoNights;
        await TickAsync(news: true);
        Assert.Equal(["morning-2031-03-13"], _mail.Taken);
        Assert.Equal("2031-03-14", _outbox.State.MorningFor);
    }

    [Fact]
    public async Task LookAsync_FolderAway_OthersHaveItAndItComesLaterAfterARestart()
    {
        _folder.Away = true;
        _clock.Now = Morning;
        await TickAsync();
        await TickAsync();
        Assert.Equal(["morning-2031-03-13"], _mail.Taken);
        Notice told = Assert.Single(_watch.FolderNotices());
        Assert.Equal(NoticeKind.NeedsPerson, told.Kind);
        Assert.Contains("is away", told.Text, StringComparison.Ordinal);
        Assert.Equal("Morning report: It is away.", Assert.Single(_watch.Troubles()));
        Restart();
        Assert.Equal(told.Key, Assert.Single(_watch.FolderNotices()).Key);
        _reports.Data = new MasterData { AsOf = _clock.Now };
        _clock.Now = Morning.AddDays(2); // longer than a mail is tried
        await TickAsync();
        _folder.Away = false;
        _clock.Now = Morning.AddDays(5);
        await TickAsync();
        Assert.Equal(["morning-2031-03-13"], _folder.Taken);
        Assert.Empty(_watch.FolderNotices());
        Assert.Empty(_watch.Troubles());
        Assert.Equal(["folder /srv/x", "mail"], _outbox.State.MorningDelivered["2031-03-13"].Order());
    }

    [Fact]
    public async Task LookAsync_OnChange_SendsWhenAVerdictChangesAndNotBetweenTwoLooks()
    {
        _settings = _settings with { OnChange = true };
        _clock.Now = Morning.AddHours(-5);
        Restart();
        await TickAsync(); // knows how it stands
        _reports.Verdict = "doubtful";
        await TickAsync(news: true); // within five minutes of the look before
        Assert.Empty(_mail.Taken);
        _clock.Now += MorningWatch.BetweenLooks;
        await TickAsync(news: true);
        string first = Assert.Single(_mail.Taken);
        Assert.Matches("^morning-2031-03-13-[0-9a-f]{16}$", first);
        _clock.Now += MorningWatch.BetweenLooks;
        _reports.Trials++; // another trial, of which nothing follows
        await TickAsync(news: true);
        Restart();
        await TickAsync(news: true);
        Assert.Single(_mail.Taken);
        _clock.Now += MorningWatch.BetweenLooks;
        _reports.Verdict = "not as claimed";
        await TickAsync(news: true);
        Assert.Equal(2, _mail.Taken.Distinct().Count(k => k.StartsWith("morning-2031-03-13-", StringComparison.Ordinal)));
    }

    [Fact]
    public async Task LookAsync_OnChangeWhileTheStoreIsAway_LooksAgainThoughNothingCameIn()
    {
        _settings = _settings with { OnChange = true };
        _clock.Now = Morning.AddHours(-5);
        Restart();
        await TickAsync();
        _clock.Now += MorningWatch.BetweenLooks;
        (_reports.Verdict, _reports.Away) = ("doubtful", true);
        await Assert.ThrowsAsync<InvalidOperationException>(() => TickAsync(news: true));
        _reports.Away = false;
        _clock.Now += MorningWatch.BetweenLooks;
        await TickAsync();
        Assert.Single(_mail.Taken);
    }

    [Fact]
    public async Task LookAsync_NothingOfYesterdayJustBeforeTheTimeSet_DoesNotPutOffToday()
    {
        _reports.Data = SampleData.Build(cards: 3, nights: 1, repetitions: 2);
        _outbox.State.MorningFor = "2031-03-12";
        _clock.Now = Morning.AddDays(1).AddMinutes(-1); // the night of the 13th had nothing
        await TickAsync();
        Assert.Equal(1, _reports.Made);
        _clock.Now = Morning.AddDays(1);
        await TickAsync();
        Assert.Equal(2, _reports.Made);
    }

    [Fact]
    public async Task LookAsync_NewerReportOnANightThatWaits_TakesThePlaceOfTheOlder()
    {
        _settings = _settings with { OnChange = true };
        Restart();
        _folder.Away = true;
        _clock.Now = Morning;
        await TickAsync();
        _clock.Now += MorningWatch.BetweenLooks;
        _reports.Verdict = "doubtful";
        await TickAsync(news: true);
        _folder.Away = false;
        _clock.Now += TimeSpan.FromHours(1);
        await TickAsync();
        Assert.StartsWith("morning-2031-03-13-", Assert.Single(_folder.Taken), StringComparison.Ordinal);
    }

    [Fact]
    public void Signs_WhatNeedsAPerson_IsNewsWhenItIsNewAndNotWhenItIsGone()
    {
        MorningSigns before = MorningSigns.Of("n", [("T-1", "doubtful")], ["T-1: 3 trials are invalid."]);
        Assert.False(MorningSigns.Of("n", [("T-1", "doubtful")], ["T-1: 4 trials are invalid."]).IsNewsAfter(before));
        Assert.False(MorningSigns.Of("n", [("T-1", "doubtful")], []).IsNewsAfter(before));
        Assert.True(MorningSigns.Of("n", [("T-1", "doubtful")], ["T-1: 3 trials are invalid.", "T-2: 3 trials are invalid."]).IsNewsAfter(before));
        Assert.True(MorningSigns.Of("n", [("T-1", "not as claimed")], ["T-1: 3 trials are invalid."]).IsNewsAfter(before));
    }

    [Fact]
    public async Task Problem_WithAMorning_IsThatTheReportArrivedNowhere()
    {
        var settings = new NoticeSettings { Morning = _settings, Zone = TimeZoneInfo.Utc };
        string? Problem() => DeadMan.Problem(_reports.Data, settings, _outbox.State, _clock.Now, TimeZoneInfo.Utc);
        Assert.Null(Problem()); // before seven it is not due, and there are runs
        (_folder.Away, _mail.Away) = (true, true);
        _clock.Now = Morning;
        await TickAsync();
        Assert.Contains("arrived nowhere. It is away.", Problem(), StringComparison.Ordinal);
        _mail.Away = false;
        _clock.Now = Morning.AddMinutes(10);
        await TickAsync();
        Assert.Null(Problem());
        _clock.Now = Morning.AddDays(1);
        Assert.Contains("No board delivered a run of the night of 2031-03-14", Problem(), StringComparison.Ordinal);
    }

    public void Dispose() => Directory.Delete(_data, recursive: true);

    private void Restart()
    {
        _outbox = new NoticeOutbox([_folder, _mail], Path.Combine(_data, NoticeState.Name), new Random(1), NullLogger.Instance);
        _watch = new MorningWatch(
            _settings, TimeZoneInfo.Utc, _outbox, new MorningShelf(Path.Combine(_data, MorningShelf.Name)), _reports, _clock, NullLogger.Instance);
    }

    private async Task TickAsync(bool news = false)
    {
        _applied += news ? 1 : 0;
        await _watch.LookAsync(new IntakePosition("e", _applied), default);
        await _outbox.PumpAsync(_clock.Now, default);
        await _watch.LookAsync(new IntakePosition("e", _applied), default);
    }

    /// <summary>Takes messages, or does not.</summary>
    private sealed class Way(string name) : INoticeChannel
    {
        internal List<string> Taken { get; } = [];

        internal bool Away { get; set; }

        public string Name => name;

        public TimeSpan Patience => name == "mail" ? TimeSpan.FromDays(1) : TimeSpan.FromDays(14);

        public bool Takes(NoticeKind kind) => true;

        public Task<SendOutcome> SendAsync(Notice notice, CancellationToken cancellationToken)
        {
            if (!Away)
            {
                Taken.Add(notice.Key);
            }

            return Task.FromResult(Away ? SendOutcome.Later("It is away.") : SendOutcome.Done);
        }
    }

    /// <summary>The real renderings of made-up data, with a verdict that a test may change.</summary>
    private sealed class Reports : IMorningReports
    {
        internal static readonly MasterData TwoNights = SampleData.Build(cards: 3, nights: 2, repetitions: 2);
        private readonly ReportDesk _desk = new(() => []);

        internal MasterData Data { get; set; } = TwoNights;

        internal string Verdict { get; set; } = "not proven";

        internal int Trials { get; set; } = 1;

        internal bool Away { get; set; }

        internal int Made { get; private set; }

        public Task<MorningSigns> SignsAsync(CancellationToken cancellationToken) => Away ? throw new InvalidOperationException("away") : Task.FromResult(Signs());

        public Task<MorningReport?> MakeAsync(DateOnly night, CancellationToken cancellationToken)
        {
            Made++;
            MorningReport? report = MorningMaker.Of(_desk, Data, night);
            return Task.FromResult(report is null ? null : report with { Signs = Signs(), Markdown = $"{Verdict}, {Trials} trials" });
        }

        private MorningSigns Signs() => MorningSigns.Of("2031-03-13", [("T-01", Verdict)], ["T-01: Look at it."]);
    }
}
