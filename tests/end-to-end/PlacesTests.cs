namespace Cardassay.EndToEnd.Tests;

/// <summary>Commands that are told no folder find the collector that runs, say which it is, and make no second set of data.</summary>
[Collection("machine")]
public sealed class PlacesTests : IDisposable
{
    private readonly Workshop _workshop = new();

    public PlacesTests() => Directory.CreateDirectory(Home);

    private string Home => Path.Combine(_workshop.Root, "home");

    [Fact]
    public void Commands_WithoutAFolder_AreForTheCollectorThatRuns()
    {
        Assert.Contains("There is no collector", Run("claim T-1 --maker Halvorn").Expect(2).Errors, StringComparison.Ordinal);
        using (Running collector = Running.Start(
            "/bin/sh", "-c", $"HOME={Home} exec {Repository.Collector} serve --data {_workshop.CollectorData} --listen off --plain-text 127.0.0.1:0 --page off"))
        {
            collector.WaitForLine("ready");
            Finished claimed = Run("claim T-1 --maker Halvorn").Expect(0);
            Assert.Contains($"Collector: the one you run on {_workshop.CollectorData}.", claimed.Errors, StringComparison.Ordinal);
            Assert.Contains("1 claim recorded", claimed.Output, StringComparison.Ordinal);
            Assert.Contains(_workshop.CollectorData, Run("status").Expect(0).Output, StringComparison.Ordinal);

            // What is written is the caller's, beside where the caller is.
            Run("report --folder ./morning").Expect(0);
            Assert.True(File.Exists(Path.Combine(_workshop.Root, "morning", "report.html")));
            Assert.Contains("There is no board \"ghost\"", Run("schedule ghost /media/card").Expect(2).Errors, StringComparison.Ordinal);
            collector.Stop();
        }

        Assert.Contains("There is no collector", Run("status").Expect(2).Errors, StringComparison.Ordinal);
        Assert.Contains("not running", Run($"status --data {_workshop.CollectorData}").Expect(0).Output, StringComparison.Ordinal);
        Assert.Contains("so no board would hear of it", Run($"schedule bench-1 /media/card --data {_workshop.CollectorData}").Expect(2).Errors, StringComparison.Ordinal);
        Assert.False(Directory.Exists(Path.Combine(Home, ".local", "share")));
    }

    [Theory]
    [InlineData("status")]
    [InlineData("report")]
    [InlineData("rebuild")]
    [InlineData("boards")]
    [InlineData("claim T-1 --maker Halvorn")]
    [InlineData("backup .")]
    public void Commands_OnAFolderThatIsNotThereOrEmpty_SayWhichAndMakeNone(string command)
    {
        string mistyped = Path.Combine(_workshop.Root, "nowhere");
        Assert.Contains(mistyped, Run($"{command} --data {mistyped}").Expect(2).Errors, StringComparison.Ordinal);
        Assert.False(Directory.Exists(mistyped));
        Directory.CreateDirectory(mistyped);
        Assert.Contains(mistyped, Run($"{command} --data {mistyped}").Expect(2).Errors, StringComparison.Ordinal);
        Assert.Empty(Directory.EnumerateFileSystemEntries(mistyped));
    }

    [Fact]
    public void Report_OfACollectorThatReceivedNothing_NamesNoNight()
    {
        _workshop.Serve().Process.Stop();
        string report = _workshop.Collector("report").Expect(0).Output;
        Assert.Contains("No night yet", report, StringComparison.Ordinal);
        Assert.DoesNotContain("19", report.Split('\n')[0] + report.Split('\n')[1], StringComparison.Ordinal);
    }

    public void Dispose() => _workshop.Dispose();

    private Finished Run(string command) => Running.Run("/bin/sh", "-c", $"cd {_workshop.Root}; HOME={Home} {Repository.Collector} {command}");
}
