using Cardassay.Collector.Boards;
using Google.Protobuf;

namespace Cardassay.Collector.Tests.Boards;

/// <summary>What is scheduled is what can be: everything the collector or the board knows against an entry is said before it is taken.</summary>
public sealed class EntryDeskTests
{
    // Identities as CardIdentity writes them: sd-MID-OID-PNM-PRV-PSN-MDT.
    private const string One = "sd-7e-4856-HV064-1.0-0badc0de-2031-02";
    private const string Other = "sd-7e-4856-HV064-1.0-0badc0df-2031-02";
    private static readonly DateTimeOffset Evening = new(2031, 3, 13, 20, 0, 0, TimeSpan.Zero);

    private readonly ManualTime _time = new(Evening);
    private readonly BoardRegistry _boards;
    private readonly ScheduleBook _book = new([]);
    private readonly TrustBook _trust = new([]);
    private readonly CardDirectory _cards;
    private readonly DutyDesk _duties;
    private readonly EntryDesk _desk;

    public EntryDeskTests()
    {
        _boards = new BoardRegistry(_time);
        _cards = new CardDirectory(_boards.All);
        _duties = new DutyDesk(_boards, _book, _cards, (_, _) => Task.CompletedTask, (_, _) => Task.FromResult(false), _time);
        _desk = new EntryDesk(_boards, _trust, _book, _cards, _duties, _time);
    }

    [Fact]
    public async Task Consider_BoardNobodyKnows_IsRefusedWithThoseThereAre()
    {
        Assert.Contains("`cardassay-collector invite NAME`", (await AskAsync("ghost", "/media/card")).Refusal, StringComparison.Ordinal);
        Present("bench-1");
        string? refusal = (await AskAsync("bench-2", "/media/card")).Refusal;
        Assert.Contains("There is no board \"bench-2\"; there are bench-1", refusal, StringComparison.Ordinal);
        Assert.Null((await AskAsync("bench-1", "/media/card")).Refusal);
        Assert.Null((await AskAsync("attic", "/media/card", delivered: "attic")).Refusal); // silent since the collector started
    }

    [Fact]
    public async Task Consider_BoardInvitedOnly_IsToldToJoinFirst()
    {
        _trust.Invite(new V1.BoardInvited { Board = "bench-3", CodeSha256 = ByteString.CopyFrom(new byte[32]), ExpiresUnixNs = (Evening.AddHours(1) - DateTimeOffset.UnixEpoch).Ticks * 100 });
        ConsideredEntry considered = await AskAsync("bench-3", "/media/card");
        Assert.Null(considered.Refusal);
        Assert.Contains(considered.Notes, n => n.Contains("has not joined yet", StringComparison.Ordinal));
        _trust.Revoke("bench-3");
        Assert.Contains("There is no board", (await AskAsync("bench-3", "/media/card")).Refusal, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("yes", "is no identity of a card")]
    [InlineData("mmcblk0", "is no identity of a card")]
    [InlineData("", "is no identity of a card")]
    [InlineData(Other, "give the identity of the card that is meant")]
    [InlineData(null, $"consent with --erase {One}")] // the plan overwrites
    [InlineData(One, null)]
    public async Task Consider_Consent_MustNameTheVeryCard(string? erase, string? problem)
    {
        Present("bench-1", ("mmcblk0", One));
        ConsideredEntry considered = await AskAsync("bench-1", "/dev/mmcblk0", more: e =>
        {
            if (erase is not null)
            {
                e.EraseIdentity = erase;
            }
        });
        if (problem is null)
        {
            Assert.Null(considered.Refusal);
        }
        else
        {
            Assert.Contains(problem, considered.Refusal, StringComparison.Ordinal);
        }
    }

    [Fact]
    public async Task Consider_ConsentForAFolder_IsRefused()
    {
        Present("bench-1");
        Assert.Contains("is a folder", (await AskAsync("bench-1", "/media/card", more: e => e.EraseIdentity = One)).Refusal, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Consider_NothingNamed_MeansTheOnlyBoardAndItsOnlyCard()
    {
        Present("bench-1", ("mmcblk0", One));
        ConsideredEntry considered = await AskAsync("", "", more: e => e.EraseIdentity = One);
        Assert.Null(considered.Refusal);
        Assert.Equal(("bench-1", "/dev/mmcblk0"), (considered.Entry.Board, considered.Entry.Target));
        Assert.Contains("bench-1 is the only board.", considered.Notes);
        Assert.Contains("/dev/mmcblk0 is the only slot of bench-1 that holds a card.", considered.Notes);

        Present("bench-1", ("mmcblk0", One), ("mmcblk1", Other));
        Assert.Contains("/dev/mmcblk0, /dev/mmcblk1", (await AskAsync("bench-1", "")).Refusal, StringComparison.Ordinal);
        Present("bench-2");
        Assert.Contains("Name the board; there are bench-1, bench-2", (await AskAsync("", "/media/card")).Refusal, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Consider_StickerNobodyHasTold_IsTheCardThatTheConsentNames()
    {
        Present("bench-1", ("mmcblk0", Other), ("mmcblk1", One));
        ConsideredEntry considered = await AskAsync("bench-1", "", "T-09", e => e.EraseIdentity = One);
        Assert.Null(considered.Refusal);
        Present("bench-1", ("mmcblk0", One), ("mmcblk1", One)); // two cards that say the same of themselves
        Assert.Contains("cannot be told which card of bench-1 is T-09", (await AskAsync("bench-1", "", "T-09", e => e.EraseIdentity = One)).Refusal, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Consider_CardThatIsInNoSlot_IsRefusedUnlessItComesLater()
    {
        Present("bench-1", ("mmcblk0", One));
        Assert.Contains("T-09 is in no slot of bench-1", (await AskAsync("bench-1", "", "T-09", e => e.EraseIdentity = Other)).Refusal, StringComparison.Ordinal);
        Assert.Null((await AskAsync("bench-1", "", "T-09", e => e.EraseIdentity = Other, later: true)).Refusal);
        Assert.Contains("no identity", (await AskAsync("bench-1", "", "T-09", e => e.EraseIdentity = "yes", later: true)).Refusal, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Consider_BoardThatFindsAnObstacle_RefusesInItsWordsAndNothingIsLeftBehind()
    {
        Present("bench-1", checksAhead: true, cards: ("mmcblk0", One));
        Task<ConsideredEntry> asked = AskAsync("bench-1", "/dev/mmcblk0", more: e => e.EraseIdentity = One);
        V1.Duty duty = await _duties.CheckAsync("bench-1", Presence("bench-1", true, ("mmcblk0", One)), CancellationToken.None);
        V1.ScheduleEntry waiting = Assert.Single(duty.Waiting);
        Assert.Null(duty.Entry); // asked about is not begun
        V1.Presence answer = Presence("bench-1", true, ("mmcblk0", One));
        answer.Preflight.Add(new V1.Preflight
        {
            ScheduleId = waiting.ScheduleId,
            Obstacles = { new V1.Obstacle { Id = "mounted", Text = "mmcblk0p1 is mounted at /media/card; unmount it (umount /media/card) and try again." } },
        });
        await _duties.CheckAsync("bench-1", answer, CancellationToken.None);
        ConsideredEntry considered = await WithTimeAsync(asked);
        Assert.StartsWith("mmcblk0p1 is mounted at /media/card", considered.Refusal, StringComparison.Ordinal);
        Assert.Empty((await _duties.CheckAsync("bench-1", answer, CancellationToken.None)).Waiting);
        Assert.Empty(_book.Entries());
    }

    [Fact]
    public async Task Consider_RunThatCannotBeOverInTime_IsRefused()
    {
        Present("bench-1");
        static void UntilTen(V1.ScheduleEntry e, int minutes) => e.StopByUnixNs = (Evening.AddMinutes(minutes) - DateTimeOffset.UnixEpoch).Ticks * 100;

        // Nobody knows how long it takes, so an hour is assumed (RunTime.UnknownSeconds).
        Assert.Contains("There is no time for it", (await AskAsync("bench-1", "/media/card", more: e => UntilTen(e, 30))).Refusal, StringComparison.Ordinal);
        Assert.Null((await AskAsync("bench-1", "/media/card", more: e => UntilTen(e, 90))).Refusal);
        Assert.Contains("that time has passed", (await AskAsync("bench-1", "/media/card", more: e => UntilTen(e, -5))).Refusal, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("system-disk", 2, false, true)]
    [InlineData("system-disk", 1, false, false)]
    [InlineData("system-disk", 5, true, false)]
    [InlineData("overnight", 3, false, false)]
    public async Task Consider_APlanThatUsesUpItsNight_IsNotRepeatedInOne(string plan, uint repeat, bool untilSettled, bool isRefused)
    {
        Present("bench-1", ("mmcblk0", One));
        string? refusal = (await AskAsync("bench-1", "/dev/mmcblk0", more: e => (e.PlanName, e.Repeat, e.UntilSettled, e.Tag) = (plan, repeat, untilSettled, "T-07"))).Refusal;
        Assert.Equal(isRefused, refusal?.Contains("say --until settled, which makes one run a night", StringComparison.Ordinal) ?? false);
    }

    [Fact]
    public async Task Consider_RemovalOfNothing_SaysSo()
    {
        Present("bench-1");
        Assert.Contains("Nothing is scheduled for /media/card on bench-1", (await AskAsync("bench-1", "/media/card", more: e => e.Repeat = 0)).Refusal, StringComparison.Ordinal);
        _book.Set(new V1.ScheduleEntry { Board = "bench-1", Target = "/media/card", Repeat = 1, ScheduleId = "a" }, Evening);
        Assert.Null((await AskAsync("bench-1", "/media/card", more: e => e.Repeat = 0)).Refusal);
    }

    private void Present(string board, params (string Disk, string Identity)[] cards) => Present(board, false, cards);

    private void Present(string board, bool checksAhead, params (string Disk, string Identity)[] cards) => _boards.Present(board, Presence(board, checksAhead, cards));

    private V1.Presence Presence(string board, bool checksAhead, params (string Disk, string Identity)[] cards)
    {
        var presence = new V1.Presence { Board = board, ChecksAhead = checksAhead, BootId = ByteString.CopyFrom(new byte[16]), WallUnixNs = (_time.Now - DateTimeOffset.UnixEpoch).Ticks * 100 };
        presence.Slots.AddRange(cards.Select(c => new V1.Slot { DiskName = c.Disk, Identity = c.Identity, IdentityFromRegisters = true, DiskBytes = 64L << 30, DiskSequence = 1 }));
        return presence;
    }

    private async Task<ConsideredEntry> WithTimeAsync(Task<ConsideredEntry> asked)
    {
        for (int i = 0; i < 100 && !asked.IsCompleted; i++)
        {
            _time.Now += TimeSpan.FromMilliseconds(100);
            await Task.Yield();
        }

        return await asked;
    }

    private Task<ConsideredEntry> AskAsync(
        string board, string target, string? tag = null, Action<V1.ScheduleEntry>? more = null, bool later = false, params string[] delivered)
    {
        var entry = new V1.ScheduleEntry { Board = board, Target = target, Repeat = 1, PlanName = "overnight" };
        if (tag is not null)
        {
            entry.Tag = tag;
        }

        more?.Invoke(entry);
        return _desk.ConsiderAsync(entry, later, delivered, CancellationToken.None);
    }
}
