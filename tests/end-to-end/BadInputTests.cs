namespace Cardassay.EndToEnd.Tests;

/// <summary>Every refusal is a sentence on standard error with a documented exit code, and nothing is journaled.</summary>
[Collection("machine")]
public sealed class BadInputTests : IDisposable
{
    private readonly Workshop _workshop = new();

    [Theory]
    [InlineData("/dev/no-such-card", 1, "no-such-card")]
    [InlineData("/proc", 1, "/proc")]
    [InlineData("/dev/shm", 1, "memory")]
    [InlineData("/dev/null", 1, "/dev/null")]
    public void Measure_UnusableTarget_SaysWhy(string target, int exitCode, string word)
    {
        Finished finished = _workshop.Agent("measure", target, "--plan", _workshop.Plan).Expect(exitCode);
        Assert.Contains(word, finished.Errors, StringComparison.Ordinal);
        Assert.DoesNotContain("   at ", finished.Errors, StringComparison.Ordinal);
        Assert.Empty(finished.Output);
    }

    [Theory]
    [InlineData("measure", true, 2, "leads through a link")]
    [InlineData("prove", true, 2, "leads through a link")]
    [InlineData("measure", false, 2, "--allow-fixed-disk")]
    [InlineData("prove", false, 2, "--allow-fixed-disk")]
    public void Folder_ThatIsNotOnACard_IsRefusedAndNothingIsWritten(string command, bool link, int exitCode, string word)
    {
        string folder = Directory.CreateDirectory(Path.Combine(_workshop.Root, "no-card-here")).FullName;
        string target = link ? Path.Combine(_workshop.Root, "link") : folder;
        if (link)
        {
            Directory.CreateSymbolicLink(target, "/"); // what filled the disk of the system
        }

        Finished finished = _workshop.Agent([command, target, .. command == "measure" ? ["--plan", _workshop.Plan] : Array.Empty<string>()]).Expect(exitCode);
        Assert.Contains(word, finished.Errors, StringComparison.Ordinal);
        Assert.Empty(finished.Output);
        Assert.Empty(Directory.EnumerateFileSystemEntries(folder));
    }

    [Theory]
    [InlineData("{ \"name\": \"x\", \"version\": \"1\",\n \"steps\": [ { \"kind\": \"randomReed\", \"seconds\": 1 } ] }", "line 2", "steps[0].kind")]
    [InlineData("{ \"name\": \"x\",\n \"version\": \"1\",\n \"steps\": [ }", "line 3", "")]
    public void Measure_DamagedPlan_NamesLineAndKey(string text, string line, string key)
    {
        File.WriteAllText(_workshop.Plan, text);
        Finished finished = _workshop.Agent("measure", _workshop.Scratch, "--plan", _workshop.Plan).Expect(2);
        Assert.Contains(line, finished.Errors, StringComparison.Ordinal);
        Assert.Contains(key, finished.Errors, StringComparison.Ordinal);
    }

    [Fact]
    public void Measure_FileSystemTooSmall_SaysSoAndLeavesNothing()
    {
        using var device = new LoopDevice(_workshop.Root, 24 << 20);
        device.Format();
        string folder = device.Mount(Path.Combine(_workshop.Root, "small"));
        Finished finished = _workshop.Agent("measure", folder, "--plan", "first-look").Expect(1);
        Assert.Contains("no room", finished.Errors, StringComparison.OrdinalIgnoreCase);
        Assert.Equal(["lost+found"], Directory.EnumerateFileSystemEntries(folder).Select(Path.GetFileName));
    }

    [Theory]
    [InlineData("192.0.2.1:7420", 1)] // an address for documentation (RFC 5737), so never this machine's
    [InlineData("nonsense", 2)]
    [InlineData("192.0.2.1", 2)]
    public void Serve_AddressThatCannotBeUsed_IsASentence(string address, int exitCode)
    {
        Finished finished = _workshop.Collector("serve", "--listen", address).Expect(exitCode);
        Assert.Contains("--listen", finished.Errors, StringComparison.Ordinal);
        Assert.DoesNotContain("   at ", finished.Errors, StringComparison.Ordinal);
    }

    [Fact]
    public void Serve_FolderInUse_NamesTheFolder()
    {
        (Running collector, _, _) = _workshop.Serve();
        using (collector)
        {
            Finished second = _workshop.Collector("serve", "--listen", "127.0.0.1:0", "--page", "off").Expect(1);
            Assert.Contains(_workshop.CollectorData, second.Errors, StringComparison.Ordinal);
        }
    }

    [Fact]
    public void Claim_BadCsvRows_AreAllNamedAndNothingIsRecorded()
    {
        string csv = Path.Combine(_workshop.Root, "claims.csv");
        File.WriteAllText(csv, "tag,labelGigabytes,marks,price,currency\nT-1,64,C10 U1,9.90,EUR\nT-2,sixty,C10,,\nT-3,32,X9,1,\n");
        _workshop.Serve().Process.Stop(); // makes the folder
        Finished finished = _workshop.Collector("claim", "--csv", csv).Expect(2);
        Assert.Contains("line 3: labelGigabytes", finished.Errors, StringComparison.Ordinal);
        Assert.Contains("line 4: marks", finished.Errors, StringComparison.Ordinal);
        Assert.Contains("line 4: currency", finished.Errors, StringComparison.Ordinal);
        Assert.Contains("\"intakeLastSequence\": 0", _workshop.Collector("status", "--json").Expect(0).Output, StringComparison.Ordinal);
    }

    public void Dispose() => _workshop.Dispose();
}
