using System.IO.Compression;
using System.Text.RegularExpressions;

namespace Cardassay.EndToEnd.Tests;

/// <summary>The way from a measured card to a table that anyone can check, and to another collector, with the programs themselves.</summary>
[Collection("machine")]
public sealed class ExchangeTests : IDisposable
{
    private readonly Workshop _workshop = new();

    [Fact]
    public void Publish_MeasuredCard_CanBeVerifiedAndOneChangedDigitIsNamed()
    {
        Measure();
        string zip = Path.Combine(_workshop.Root, "cards.zip"), post = Path.Combine(_workshop.Root, "post.md");
        Finished published = _workshop.Collector("report", "--publish", "markdown", "--evidence", zip, "--output", post).Expect(0);
        Assert.Contains("README.txt says what is in it", published.Errors, StringComparison.Ordinal);
        Assert.Contains("raw records", Running.Run(Repository.Collector, "verify", zip, "--table", post).Expect(0).Output, StringComparison.Ordinal);

        string table = File.ReadAllText(post);
        Match digit = Regex.Match(table, @"\| E-1 \|.*?([0-9])(?= (single|range|\[))");
        Assert.True(digit.Success, table);
        char other = digit.Groups[1].Value == "7" ? '8' : '7';
        File.WriteAllText(post, table[..digit.Groups[1].Index] + other + table[(digit.Groups[1].Index + 1)..]);
        Finished changed = Running.Run(Repository.Collector, "verify", zip, "--table", post).Expect(1);
        Assert.Contains("card E-1, ", changed.Output, StringComparison.Ordinal);

        // Neither this machine's name nor any path of the test is in it.
        using ZipArchive archive = ZipFile.OpenRead(zip);
        string all = string.Concat(archive.Entries.Select(e => new StreamReader(e.Open()).ReadToEnd()));
        Assert.DoesNotContain(Path.GetFileName(_workshop.Root), all, StringComparison.Ordinal);
        Assert.DoesNotContain("bench-of-the-test", all, StringComparison.Ordinal);
        Assert.DoesNotMatch($@"(?<![\w-]){Regex.Escape(Environment.MachineName)}(?![\w-])", Environment.MachineName.Length > 3 ? all : "");
        Assert.Contains("trialMeasured", all, StringComparison.Ordinal);
    }

    [Fact]
    public void Export_ImportedIntoAnEmptyCollector_GivesTheIdenticalReport()
    {
        Measure();
        string notes = Path.Combine(_workshop.Root, "notes.csv");
        File.WriteAllText(notes, "tag,4k read,day\nT-90,8.4,2024-05-01\nT-91,fast,2024-05-01\n");
        Assert.Contains("--map COLUMN=randomRead:UNIT", _workshop.Collector("import", notes).Expect(1).Output, StringComparison.Ordinal);
        string[] import = ["import", notes, "--map", "4k read=randomRead:MB/s"];
        Assert.Contains("Nothing was recorded", _workshop.Collector(import).Expect(1).Output, StringComparison.Ordinal);
        Assert.Contains("refused, line 3", _workshop.Collector([.. import, "--record"]).Expect(1).Output, StringComparison.Ordinal);

        string zip = Path.Combine(_workshop.Root, "north.zip"), elsewhere = Path.Combine(_workshop.Root, "elsewhere");
        _workshop.Collector("export", "--format", "raw", "--as", "north", "--output", zip).Expect(0);
        Running.Run(Repository.Collector, "import", zip, "--data", elsewhere).Expect(2); // only `serve` makes a folder
        using (Running serving = Running.Start(Repository.Collector, "serve", "--data", elsewhere, "--listen", "off", "--page", "off"))
        {
            serving.WaitForLine("ready");
            serving.Stop();
        }

        Running.Run(Repository.Collector, "import", zip, "--data", elsewhere).Expect(0);
        Running.Run(Repository.Collector, "import", zip, "--same-stickers", "--record", "--data", elsewhere).Expect(0);
        string report = _workshop.Collector("report", "--json").Expect(0).Output;
        Assert.Contains("T-90", report, StringComparison.Ordinal);
        Assert.Equal(report, Running.Run(Repository.Collector, "report", "--json", "--data", elsewhere).Expect(0).Output);

        string figures = Path.Combine(_workshop.Root, "figures");
        _workshop.Collector("export", "--format", "parquet", "--output", figures).Expect(0);
        Assert.NotEmpty(Directory.EnumerateFiles(Path.Combine(figures, "figures"), "????-??-??.parquet"));
        Assert.True(File.Exists(Path.Combine(figures, "cards.parquet")) && File.Exists(Path.Combine(figures, "runs.parquet")));
        _workshop.Collector("export", "--format", "parquet", "--output", figures).Expect(2);
    }

    public void Dispose() => _workshop.Dispose();

    private void Measure()
    {
        (Running collector, string address, _) = _workshop.Serve();
        using (collector)
        {
            _workshop.Agent("measure", _workshop.Scratch, "--plan", _workshop.Plan, "--tag", "E-1").Expect(0);
            _workshop.Agent("work", "--collector", address, "--board", "bench-of-the-test", "--until-idle").Expect(0);
            _workshop.Collector("claim", "E-1", "--maker", "Halvorn", "--product", "Fathom", "--gigabytes", "64", "--bought-at", "a shop").Expect(0);
        }
    }
}
