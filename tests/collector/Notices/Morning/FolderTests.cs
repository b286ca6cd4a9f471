using System.Diagnostics;
using Cardassay.Collector.Notices;
using Cardassay.Collector.Notices.Morning;

namespace Cardassay.Collector.Tests.Notices.Morning;

public sealed class FolderTests : IDisposable
{
    private static readonly DateTimeOffset Now = new(2031, 3, 14, 7, 0, 0, TimeSpan.Zero);
    private readonly string _root = Directory.CreateTempSubdirectory("cardassay morning ").FullName; // a name with blanks
    private readonly MorningShelf _shelf;
    private readonly string _folder;

    public FolderTests()
    {
        _shelf = new MorningShelf(Path.Combine(_root, "shelf"));
        _folder = Directory.CreateDirectory(Path.Combine(_root, "my cards, 100 %")).FullName;
    }

    [Fact]
    public async Task SendAsync_TwoNights_AreThereWithTheirIndexNewestFirst()
    {
        await DeliveredAsync(SampleMorning.Of("2031-03-12"));
        await DeliveredAsync(SampleMorning.Report);
        Assert.Equal(
            ["2031-03-12-table.md", "2031-03-12.html", "2031-03-12.md", "2031-03-13-table.md", "2031-03-13.html", "2031-03-13.md", "index.html"],
            Names());
        Assert.Equal(SampleMorning.Report.Html, Read("2031-03-13.html"));
        Assert.Equal(SampleMorning.Report.Markdown, Read("2031-03-13.md"));
        string index = Read("index.html");
        Assert.InRange(index.IndexOf("2031-03-13.html", StringComparison.Ordinal), 1, index.IndexOf("2031-03-12.html", StringComparison.Ordinal));
        Assert.Contains($"2031-03-13</a>: {SampleMorning.Report.Line} ·", index, StringComparison.Ordinal);
        Assert.DoesNotContain("<script", index, StringComparison.Ordinal);
    }

    [Fact]
    public async Task SendAsync_SameReportAgain_ChangesNoFile()
    {
        await DeliveredAsync(SampleMorning.Report);
        var before = new DateTime(2031, 1, 1, 0, 0, 0, DateTimeKind.Utc);
        foreach (string file in Directory.GetFiles(_folder))
        {
            File.SetLastWriteTimeUtc(file, before);
        }

        await DeliveredAsync(SampleMorning.Report);
        Assert.All(Directory.GetFiles(_folder), f => Assert.Equal(before, File.GetLastWriteTimeUtc(f)));
    }

    [Fact]
    public async Task SendAsync_MissingFolder_IsNotMadeAndTriedLater()
    {
        string gone = Path.Combine(_root, "not mounted");
        SendOutcome outcome = await SendAsync(SampleMorning.Report, gone);
        Assert.Equal((false, true), (outcome.Delivered, outcome.TryAgain));
        Assert.Contains(gone, outcome.Problem, StringComparison.Ordinal);
        Assert.False(Directory.Exists(gone));
    }

    [Fact]
    public async Task SendAsync_IndexOfSomethingElse_StaysAsItIs()
    {
        File.WriteAllText(Path.Combine(_folder, "index.html"), "<h1>My own page</h1>");
        SendOutcome outcome = await SendAsync(SampleMorning.Report, _folder);
        Assert.Equal((false, true), (outcome.Delivered, outcome.TryAgain));
        Assert.Contains("is of something else", outcome.Problem, StringComparison.Ordinal);
        Assert.Equal(["index.html"], Names());
        Assert.Equal("<h1>My own page</h1>", Read("index.html"));
    }

    [Fact]
    public async Task SendAsync_NightWhoseLineWasLost_IsListedWithoutOne()
    {
        File.WriteAllText(Path.Combine(_folder, "2031-03-01.html"), "of a collector whose folder is gone");
        await DeliveredAsync(SampleMorning.Report);
        Assert.Contains("<li><a href=\"2031-03-01.html\">2031-03-01</a></li>", Read("index.html"), StringComparison.Ordinal);
    }

    [Fact]
    public async Task SendAsync_WhatACollectorLeftThatWasEndedInTheMiddle_IsRemoved()
    {
        File.WriteAllText(Path.Combine(_folder, "2031-03-13.html.0123.part"), "half");
        File.WriteAllText(Path.Combine(_folder, "notes.part"), "somebody's own");
        await DeliveredAsync(SampleMorning.Report);
        Assert.Equal(["notes.part"], Names().Where(n => n.EndsWith(".part", StringComparison.Ordinal)));
    }

    [Fact]
    [System.Runtime.Versioning.SupportedOSPlatform("linux")]
    public async Task SendAsync_FolderOthersMayLookInto_HoldsFilesTheyMayRead()
    {
        File.SetUnixFileMode(_folder, UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.UserExecute | UnixFileMode.GroupRead | UnixFileMode.GroupExecute);
        await DeliveredAsync(SampleMorning.Report);
        Assert.All(Directory.GetFiles(_folder), f => Assert.Equal(UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.GroupRead, File.GetUnixFileMode(f)));
    }

    [Fact]
    public async Task SendAsync_Test_TriesTheFolderAndLeavesNothing()
    {
        var test = new Notice(NoticeKind.Test, "t", "a test", "", Now);
        Assert.True((await new FolderChannel(_folder, _shelf).SendAsync(test, default)).Delivered);
        Assert.Empty(Names());
        Assert.False((await new FolderChannel(_folder + "x", _shelf).SendAsync(test, default)).Delivered);
    }

    [SkippableFact]
    public async Task SendAsync_FullDiskAndReadOnlyFolder_ShowNothingHalfAndGoOnAfterwards()
    {
        Skip.IfNot(Environment.UserName == "root" && OperatingSystem.IsLinux(), "mounting needs root");
        await RunAsync("mount", "-t", "tmpfs", "-o", "size=64k", "small", _folder);
        try
        {
            await DeliveredAsync(SampleMorning.Report with { Html = "<p>old", Markdown = "old" });
            SendOutcome full = await SendAsync(SampleMorning.Report with { Html = new string('x', 100_000) }, _folder);
            Assert.Equal((false, true), (full.Delivered, full.TryAgain));
            Assert.Contains(_folder, full.Problem, StringComparison.Ordinal);
            Assert.Equal("<p>old", Read("2031-03-13.html"));
            Assert.Equal(["2031-03-13-table.md", "2031-03-13.html", "2031-03-13.md", "index.html"], Names());

            await RunAsync("mount", "-o", "remount,ro", _folder);
            SendOutcome readOnly = await SendAsync(SampleMorning.Report with { Html = "<p>new" }, _folder);
            Assert.Equal((false, true), (readOnly.Delivered, readOnly.TryAgain));
            Assert.Equal("<p>old", Read("2031-03-13.html"));

            await RunAsync("mount", "-o", "remount,rw,size=8m", _folder);
            await DeliveredAsync(SampleMorning.Report);
            Assert.Equal(SampleMorning.Report.Html, Read("2031-03-13.html"));
        }
        finally
        {
            await RunAsync("umount", _folder);
        }
    }

    public void Dispose() => Directory.Delete(_root, recursive: true);

    private static async Task RunAsync(string program, params string[] arguments)
    {
        using Process process = Process.Start(program, arguments);
        await process.WaitForExitAsync();
        Assert.Equal(0, process.ExitCode);
    }

    private string[] Names() => [.. Directory.GetFiles(_folder).Select(f => Path.GetFileName(f)).Order(StringComparer.Ordinal)];

    private string Read(string name) => File.ReadAllText(Path.Combine(_folder, name));

    private async Task DeliveredAsync(MorningReport report) => Assert.Equal(SendOutcome.Done, await SendAsync(report, _folder));

    private Task<SendOutcome> SendAsync(MorningReport report, string folder)
    {
        string key = "morning-" + report.Night;
        _shelf.Put(key, report);
        return new FolderChannel(folder, _shelf).SendAsync(new Notice(NoticeKind.Morning, key, "t", "", Now) { Night = report.Night }, default);
    }
}
