using System.Diagnostics;
using System.Text.Json.Nodes;
using Cardassay.Collector.Backup;
using Cardassay.Collector.Commands;
using Cardassay.Collector.Tests.Intake;
using Grpc.Core;

namespace Cardassay.Collector.Tests.Backup;

/// <summary>Copies made while the collector works, and what a damaged or forged one comes to.</summary>
public sealed class BackupTests : IAsyncLifetime
{
    private readonly string _share = Directory.CreateTempSubdirectory("cardassay-share-").FullName;
    private CollectorFixture _collector = null!;

    public async Task InitializeAsync() => _collector = await CollectorFixture.StartAsync();

    public async Task DisposeAsync()
    {
        await _collector.DisposeAsync();
        Directory.Delete(_share, recursive: true);
    }

    [Fact]
    public async Task Backup_WhileABoardDelivers_IsWholeAndRestoresToTheSameContent()
    {
        using var stop = new CancellationTokenSource();
        Task delivering = DeliverUntilAsync(stop.Token);
        V1.BackupAnswer made;
        do
        {
            made = await BackupAsync(new V1.BackupRequest { Folder = _share });
        }
        while (made.Entries < 5 && await Waited());
        await stop.CancelAsync();
        await delivering;

        string restored = Path.Combine(_share, "restored");
        LogContent content = Restorer.Restore(made.Folder, restored);
        Assert.Equal((long)made.Entries, content.Entries);
        Assert.Equal(
            await File.ReadAllTextAsync(Path.Combine(_collector.Folder, "authority", "authority.pem")),
            await File.ReadAllTextAsync(Path.Combine(restored, "authority", "authority.pem")));

        // Something outside counts too: the segment files of the copy begin the collector's own, byte for byte (cmp of POSIX).
        foreach (string file in Directory.EnumerateFiles(Path.Combine(restored, "intake"), "*.cardlog"))
        {
            using Process compare = Process.Start("cmp", ["-n", $"{new FileInfo(file).Length}", file, Path.Combine(_collector.Folder, "intake", Path.GetFileName(file))]);
            await compare.WaitForExitAsync();
            Assert.Equal(0, compare.ExitCode);
        }

        await using OperatorSession session = await OperatorSession.OpenAsync(restored, TimeProvider.System, CancellationToken.None);
        V1.CollectorStatus status = await session.Client.GetStatusAsync(new V1.GetStatusRequest());
        Assert.True(status.RecordsReceived > 0);
        Assert.Equal(0ul, status.Gaps + status.Conflicts);
    }

    [Fact]
    public async Task Schedule_OnAShareThatGoesAway_SaysSoAndNeverCopiesBesideIt()
    {
        Assert.Contains("never made; none is scheduled", (await _collector.StatusAsync()).Backup, StringComparison.Ordinal);
        await BackupAsync(new V1.BackupRequest { Folder = _share, EveryHours = 24, Keep = 2 });
        _collector.Time.Shift = TimeSpan.FromHours(3);
        V1.CollectorStatus status = await _collector.StatusAsync();
        Assert.Contains("3.0 h old", status.Backup, StringComparison.Ordinal);
        Assert.InRange(status.BackupAgeSeconds, 3 * 3600, (3 * 3600) + 600);
        Assert.Empty(status.NeedsPerson);

        _collector.Time.Shift = TimeSpan.FromHours(49);
        Assert.Contains("overdue", Assert.Single((await _collector.StatusAsync()).NeedsPerson), StringComparison.Ordinal);

        // The share is not mounted: its mount point is there and empty.
        Directory.Delete(_share, recursive: true);
        Directory.CreateDirectory(_share);
        await _collector.StopAsync();
        await _collector.StartAgainAsync(); // looks at the schedule at once
        string need = await UntilAsync(async () => (await _collector.StatusAsync()).NeedsPerson.FirstOrDefault(n => n.Contains("failed", StringComparison.Ordinal)));
        Assert.Contains("is the share mounted", need, StringComparison.Ordinal);
        Assert.Contains("49.0 h old", need, StringComparison.Ordinal);
        Assert.Empty(Directory.EnumerateFileSystemEntries(_share));

        await BackupAsync(new V1.BackupRequest { Folder = _share, EveryHours = 24, Keep = 2 });
        Assert.Empty((await _collector.StatusAsync()).NeedsPerson);
        await _collector.AskAsync(async o => await o.BackupAsync(new V1.BackupRequest { ScheduleOff = true }));
        Assert.Contains("none is scheduled", (await _collector.StatusAsync()).Backup, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Keep_DeletesTheOldestBackupsAndNothingElse()
    {
        string foreign = Directory.CreateDirectory(Path.Combine(_share, BackupMaker.NameBegin + "0000-by-hand")).FullName;
        File.WriteAllText(Path.Combine(foreign, "letter.txt"), "mine");
        for (int i = 0; i < 3; i++)
        {
            _collector.Time.Shift = TimeSpan.FromHours(i);
            await BackupAsync(new V1.BackupRequest { Folder = _share, EveryHours = 1, Keep = 2 });
        }

        Assert.Equal(2, Directory.EnumerateFiles(_share, BackupManifest.FileName, SearchOption.AllDirectories).Count());
        Assert.True(File.Exists(Path.Combine(foreign, "letter.txt")));
    }

    [Theory]
    [InlineData("nowhere")]
    [InlineData("inside")]
    public async Task Backup_ToAFolderThatCannotBe_IsRefused(string where)
    {
        string folder = where == "nowhere" ? Path.Combine(_share, "no") : Directory.CreateDirectory(Path.Combine(_collector.Folder, "copies")).FullName;
        RpcException e = await Assert.ThrowsAsync<RpcException>(() => BackupAsync(new V1.BackupRequest { Folder = folder }));
        Assert.Contains(where == "nowhere" ? "not there" : "data folder itself", e.Status.Detail, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("flip")]
    [InlineData("truncate")]
    [InlineData("missing")]
    [InlineData("link")]
    [InlineData("../../evil")]
    [InlineData("/etc/evil")]
    [InlineData("intake/../../evil")]
    [InlineData("intake\\evil")]
    [InlineData("intake/evil")]
    [InlineData("operator.sock")]
    [InlineData("twice")]
    [InlineData("count")]
    [InlineData("hash")]
    [InlineData("version")]
    [InlineData("rubbish")]
    public async Task Restore_OfADamagedOrForgedBackup_IsRefusedAndLeavesNothing(string damage)
    {
        await _collector.InviteAsync(); // something in the log
        string backup = (await BackupAsync(new V1.BackupRequest { Folder = _share })).Folder;
        Damage(backup, damage);
        string into = Path.Combine(_share, "sub-of-share");
        BackupException e = Assert.Throws<BackupException>(() => Restorer.Restore(backup, into));
        Assert.Contains("backup", e.Message, StringComparison.OrdinalIgnoreCase);
        Assert.Equal([Path.GetFileName(backup)], Directory.EnumerateFileSystemEntries(_share).Select(f => Path.GetFileName(f)!));
    }

    [Fact]
    public async Task Restore_IntoWhatExistsOrByADetour_IsRefused()
    {
        string backup = (await BackupAsync(new V1.BackupRequest { Folder = _share })).Folder;
        string full = Directory.CreateDirectory(Path.Combine(_share, "full")).FullName;
        File.WriteAllText(Path.Combine(full, "mine"), "mine");
        string dangling = Path.Combine(_share, "dangling");
        File.CreateSymbolicLink(dangling, Path.Combine(_share, "nowhere"));
        string file = Path.Combine(_share, "file");
        File.WriteAllText(file, "mine");
        string[] refused = ["", full, full + "/", dangling, file, _collector.Folder, Path.Combine(_share, "no", "new"), _share + "/x/../y", "../up", _share + "/a\nb", _share + "/a\0b", backup];
        foreach (string into in refused)
        {
            Assert.Throws<BackupException>(() => Restorer.Restore(backup, into));
        }

        Assert.Equal("mine", File.ReadAllText(Path.Combine(full, "mine")));
        Assert.False(Path.Exists(Path.Combine(_share, "nowhere")));
        Restorer.Restore(backup, Path.Combine(_share, "new"));
    }

    private static void Damage(string backup, string damage)
    {
        string segment = Directory.EnumerateFiles(Path.Combine(backup, "intake")).Single();
        string manifestFile = Path.Combine(backup, BackupManifest.FileName);
        byte[] bytes = File.ReadAllBytes(segment);
        JsonObject manifest = JsonNode.Parse(File.ReadAllText(manifestFile))!.AsObject();
        JsonArray files = manifest["files"]!.AsArray();
        switch (damage)
        {
            case "flip":
                bytes[^1] ^= 1;
                File.WriteAllBytes(segment, bytes);
                return;
            case "truncate":
                File.WriteAllBytes(segment, bytes[..^1]);
                return;
            case "missing":
                File.Delete(segment);
                return;
            case "link":
                File.Move(segment, segment + ".real");
                File.CreateSymbolicLink(segment, segment + ".real");
                return;
            case "rubbish":
                File.WriteAllText(manifestFile, "{ \"version\": ");
                return;
            case "twice":
                files.Add(files[0]!.DeepClone());
                break;
            case "count":
                manifest["entries"] = manifest["entries"]!.GetValue<long>() + 1;
                break;
            case "hash":
                manifest["contentSha256"] = new string('0', 64);
                break;
            case "version":
                manifest["version"] = 99;
                break;
            default:
                files[0]!["name"] = damage;
                break;
        }

        File.WriteAllText(manifestFile, manifest.ToJsonString());
    }

    private static async Task<bool> Waited()
    {
        await Task.Delay(1_100); // a backup's name has seconds
        return true;
    }

    private static async Task<string> UntilAsync(Func<Task<string?>> ask)
    {
        using var limit = new CancellationTokenSource(TimeSpan.FromSeconds(60));
        while (true)
        {
            if (await ask() is { } answer)
            {
                return answer;
            }

            await Task.Delay(100, limit.Token);
        }
    }

    private async Task DeliverUntilAsync(CancellationToken stop)
    {
        byte[] epoch = TestBoard.NewEpoch();
        using var board = new TestBoard(_collector);
        await board.GreetAsync(epoch, 1, 1);
        await board.NextAsync();
        for (ulong sequence = 1; !stop.IsCancellationRequested; sequence++)
        {
            await board.SendAsync(TestBoard.Record(epoch, sequence, new byte[20_000]));
            await board.ReceiptAsync(sequence);
        }
    }

    private Task<V1.BackupAnswer> BackupAsync(V1.BackupRequest request) => _collector.AskAsync(async o => await o.BackupAsync(request));
}
