using Cardassay.Agent.Commands;
using Cardassay.Agent.Delivery;
using Cardassay.Agent.Sysfs;
using Cardassay.Agent.Tests.Sysfs;

namespace Cardassay.Agent.Tests.Commands;

/// <summary>What stands in the way of an entry is found before it is due, named one by one, and nothing is written.</summary>
public sealed class DutyPreflightTests : IDisposable
{
    private const string Plan = """{ "name": "quick", "version": "1", "regionBytes": "4 MiB", "steps": [ { "kind": "randomWrite", "seconds": 1, "bytes": "4 MiB" } ] }""";
    private readonly DirectoryInfo _directory = Directory.CreateDirectory($"/var/tmp/cardassay-preflight-{Guid.NewGuid():N}");
    private readonly ObservationJournal _journal;

    public DutyPreflightTests() => _journal = ObservationJournal.Open(Folder.Journal, TimeProvider.System, Guid.NewGuid());

    private AgentFolder Folder => new(Path.Combine(_directory.FullName, "agent"));

    [Fact]
    public async Task Folder_WithRoom_CanBegin()
    {
        V1.Preflight check = await CheckAsync(new SysfsTree("/"), Entry(_directory.FullName));
        Assert.Empty(check.Obstacles);
        Assert.True(check.SecondsAtMost > 0);
        Assert.Equal(["agent"], Directory.EnumerateFileSystemEntries(_directory.FullName).Select(Path.GetFileName));
    }

    [Fact]
    public async Task Folder_OnTheSystemsDisk_NeedsConsent()
    {
        V1.ScheduleEntry entry = Entry(_directory.FullName);
        entry.AllowFixedDisk = false;
        V1.Obstacle obstacle = Assert.Single((await CheckAsync(new SysfsTree("/"), entry)).Obstacles);
        Assert.Equal("system-folder", obstacle.Id);
        Assert.Contains("--allow-fixed-disk", obstacle.Text, StringComparison.Ordinal);
    }

    [SkippableFact]
    public async Task Folder_InMemory_IsNamed()
    {
        Skip.IfNot(Directory.Exists("/dev/shm"));
        Assert.Contains("in memory", Assert.Single((await CheckAsync(new SysfsTree("/"), Entry("/dev/shm"))).Obstacles).Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Folder_WithoutRoom_IsNamed()
    {
        V1.ScheduleEntry entry = Entry(_directory.FullName);
        entry.PlanText = Plan.Replace("\"regionBytes\": \"4 MiB\"", "\"regionBytes\": \"1 TiB\"", StringComparison.Ordinal);
        Assert.Contains("no room", Assert.Single((await CheckAsync(new SysfsTree("/"), entry)).Obstacles).Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task EmptySlot_IsNamed()
    {
        V1.Obstacle obstacle = Assert.Single((await CheckAsync(new SysfsTree("/"), Entry("/dev/mmcblk77"))).Obstacles);
        Assert.Equal("target", obstacle.Id);
        Assert.Contains("mmcblk77", obstacle.Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task RawWrite_WithoutConsent_IsNamedWithWhatToSay()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-b-6.6-sdxc");
        V1.Preflight check = await CheckAsync(fixture.Tree, Entry("/dev/mmcblk1"));
        V1.Obstacle consent = Assert.Single(check.Obstacles, o => o.Id == "identity-missing");
        Assert.Contains(check.Identity, consent.Text, StringComparison.Ordinal);

        V1.ScheduleEntry other = Entry("/dev/mmcblk1");
        other.EraseIdentity = "another-card";
        Assert.Contains((await CheckAsync(fixture.Tree, other)).Obstacles, o => o.Id == "identity-differs");
    }

    [Fact]
    public async Task AnotherCard_ThanTheOneExpected_IsNamed()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-b-6.6-sdxc");
        V1.ScheduleEntry entry = Entry("/dev/mmcblk1");
        entry.ExpectedIdentity = "the-right-card";
        Assert.Contains("the-right-card", Assert.Single((await CheckAsync(fixture.Tree, entry)).Obstacles).Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task CardThatDoesNotSayTheSameTwice_IsNamed()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-b-6.6-sdxc");
        var time = new ActingTime(() => fixture.Text("sys/block/mmcblk1/diskseq", "12345"));
        V1.Preflight check = await new DutyPreflight(fixture.Tree, Folder, _journal, time).CheckAsync(Entry("/dev/mmcblk1"), CancellationToken.None);
        Assert.Contains(check.Obstacles, o => o.Id == "identity-unsteady");
    }

    [Fact]
    public async Task DiskThatHung_IsLeftAlone()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-b-6.6-sdxc");
        var preflight = new DutyPreflight(fixture.Tree, Folder, _journal, TimeProvider.System);
        preflight.HasHung("mmcblk1");
        Assert.Equal("hung", Assert.Single((await preflight.CheckAsync(Entry("/dev/mmcblk1"), CancellationToken.None)).Obstacles).Id);
    }

    [Fact]
    public async Task DamagedPlanAndUnknownPlan_AreNamed()
    {
        V1.ScheduleEntry damaged = Entry(_directory.FullName);
        damaged.PlanText = "{";
        Assert.Single((await CheckAsync(new SysfsTree("/"), damaged)).Obstacles);
        var unknown = new V1.ScheduleEntry { ScheduleId = "s", Target = _directory.FullName, PlanName = "no-such-plan" };
        Assert.Contains("no-such-plan", Assert.Single((await CheckAsync(new SysfsTree("/"), unknown)).Obstacles).Text, StringComparison.Ordinal);
    }

    public void Dispose()
    {
        _journal.Dispose();
        _directory.Delete(recursive: true);
    }

    private static V1.ScheduleEntry Entry(string target) => new() { ScheduleId = "s", Target = target, PlanName = "quick", PlanText = Plan, AllowFixedDisk = true };

    private Task<V1.Preflight> CheckAsync(SysfsTree tree, V1.ScheduleEntry entry) =>
        new DutyPreflight(tree, Folder, _journal, TimeProvider.System).CheckAsync(entry, CancellationToken.None);

    /// <summary>Does something whenever somebody is about to wait.</summary>
    private sealed class ActingTime(Action act) : TimeProvider
    {
        public override ITimer CreateTimer(TimerCallback callback, object? state, TimeSpan dueTime, TimeSpan period)
        {
            act();
            return base.CreateTimer(callback, state, dueTime, period);
        }
    }
}
