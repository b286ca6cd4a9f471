using System.Diagnostics;
using Cardassay.Collector.Commands;
using Cardassay.Collector.Hosting;

namespace Cardassay.Collector.Tests.Commands;

/// <summary>A report file is there whole or not at all.</summary>
public sealed class WholeFileTests : IDisposable
{
    private readonly DirectoryInfo _folder = Directory.CreateTempSubdirectory("cardassay-test-");

    private string Target => Path.Combine(_folder.FullName, "report.json");

    [Fact]
    public async Task Write_WhereNothingIs_MakesTheFile()
    {
        await WholeFile.WriteAsync(Target, to => to.WriteAsync("first"u8.ToArray()).AsTask());
        Assert.Equal("first", await File.ReadAllTextAsync(Target));
        File.CreateSymbolicLink(Path.Combine(_folder.FullName, "link"), "not-yet.json");
        await WholeFile.WriteAsync(Path.Combine(_folder.FullName, "link"), to => to.WriteAsync("second"u8.ToArray()).AsTask());
        Assert.Equal("second", await File.ReadAllTextAsync(Path.Combine(_folder.FullName, "not-yet.json")));
    }

    [Fact]
    public async Task Write_FailsInTheMiddle_LeavesWhatWasThereAndNothingElse()
    {
        await File.WriteAllTextAsync(Target, "before");
        await Assert.ThrowsAsync<InvalidOperationException>(() => WholeFile.WriteAsync(Target, async to =>
        {
            await to.WriteAsync(new byte[1 << 20]);
            throw new InvalidOperationException("the collector went away");
        }));
        Assert.Equal("before", await File.ReadAllTextAsync(Target));
        Assert.Single(_folder.EnumerateFiles());
    }

    [Fact]
    public async Task Write_WhileItGoesOn_TheOldFileIsThere()
    {
        await File.WriteAllTextAsync(Target, "before");
        await WholeFile.WriteAsync(Target, async to =>
        {
            await to.WriteAsync("after"u8.ToArray());
            await to.FlushAsync();
            Assert.Equal("before", await File.ReadAllTextAsync(Target));
        });
        Assert.Equal("after", await File.ReadAllTextAsync(Target));
        Assert.Single(_folder.EnumerateFiles());
    }

    [Fact]
    public async Task Write_OverALink_ReplacesWhatItPointsToAndKeepsItsMode()
    {
        string real = Path.Combine(_folder.FullName, "real.json");
        await File.WriteAllTextAsync(real, "before");
        const UnixFileMode mode = UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.GroupRead;
        if (!OperatingSystem.IsWindows())
        {
            File.SetUnixFileMode(real, mode);
        }

        File.CreateSymbolicLink(Target, "real.json");
        await WholeFile.WriteAsync(Target, to => to.WriteAsync("after"u8.ToArray()).AsTask());
        Assert.Equal("after", await File.ReadAllTextAsync(real));
        Assert.Equal("real.json", new FileInfo(Target).LinkTarget);
        if (!OperatingSystem.IsWindows())
        {
            Assert.Equal(mode, File.GetUnixFileMode(real));
        }
    }

    [Fact]
    public async Task Write_ToAPipe_IsReadAtItsOtherEndAndThePipeStays()
    {
        string pipe = Path.Combine(_folder.FullName, "pipe");
        using (Process made = Process.Start("mkfifo", [pipe]))
        {
            await made.WaitForExitAsync();
        }

        Task<string> read = Task.Run(() => File.ReadAllText(pipe));
        await Task.Run(() => WholeFile.WriteAsync(pipe, to => to.WriteAsync("after"u8.ToArray()).AsTask()));
        Assert.Equal("after", await read.WaitAsync(TimeSpan.FromSeconds(30)));
        Assert.Single(_folder.EnumerateFiles());
    }

    [Fact]
    public async Task Write_WhereNoFolderIs_NamesTheFile()
    {
        string nowhere = Path.Combine(_folder.FullName, "missing", "report.json");
        CommandException e = await Assert.ThrowsAsync<CommandException>(() => WholeFile.WriteAsync(nowhere, _ => Task.CompletedTask));
        Assert.Contains(nowhere + " cannot be written", e.Message, StringComparison.Ordinal);
    }

    public void Dispose() => _folder.Delete(recursive: true);
}
