using System.IO.Compression;
using System.Text;
using System.Text.RegularExpressions;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Commands;
using Cardassay.Collector.Exchange;
using Cardassay.Collector.Exchange.Publishing;
using Cardassay.Collector.Files;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Report;
using Cardassay.Collector.Storage.Memory;

namespace Cardassay.Collector.Tests.Exchange;

public sealed class PublishingTests
{
    private static readonly Publisher Publisher = new(ReportDesk.Model);
    private static readonly byte[] Zip = ZipOf(Make(new PublicationOptions { Prices = true, Columns = [.. PublicationColumns.Default, "price"] }));

    [Fact]
    public void Check_UntouchedZip_AgreesAndItsFiguresAreThoseOfTheReport()
    {
        Verification check = Publisher.Check(EvidenceZip.Read(new MemoryStream(Zip), "cards.zip"));
        Assert.Empty(check.Differences);
        Assert.True(check.Figures > 200, check.Figures.ToString());

        using MemoryRecordStore store = EntryStore.Of(ExchangeSamples.Entries());
        string report = CsvReport.Render(ReportDesk.Model(MasterDataLoader.Load(store), UseProfile.SystemDisk));
        Assert.Equal(report, Member("figures.csv"));
    }

    [Fact]
    public async Task Recompute_TheZipsOwnScript_ReachesEveryMeasuredCellWithPythonAlone()
    {
        string folder = Directory.CreateTempSubdirectory("recompute-").FullName;
        try
        {
            string zip = Path.Combine(folder, "cards.zip");
            await File.WriteAllBytesAsync(zip, Zip);
            await File.WriteAllTextAsync(Path.Combine(folder, "recompute.py"), Member("recompute.py"));
            (int code, string output) = await PythonAsync(folder, "cards.zip");
            Assert.True(code == 0, output);
            int rows = Member("figures.csv").Split("\r\n").Count(l => l.Contains(" MB/s,", StringComparison.Ordinal) || l.Contains(",MB/s,", StringComparison.Ordinal) || l.Contains(",IOPS,", StringComparison.Ordinal));
            int handKept = Member("figures.csv").Split("\r\n").Count(l => l.Contains("kept by hand", StringComparison.Ordinal));
            int shown = Regex.Count(Member("table.md").Split("\n\n- ")[0].Replace("\\", "", StringComparison.Ordinal), @" n=\d");
            Assert.Contains($"{8 * (rows - handKept) + shown - Regex.Count(Member("table.md"), "kept by hand n=")} cells recomputed, 0 differ.", output, StringComparison.Ordinal);

            // A digit, a mark and a record changed: each is seen.
            await File.WriteAllBytesAsync(zip, Changed("figures.csv", Regex.Replace(Member("figures.csv"), @",IOPS,(\d)", m => $",IOPS,{(m.Groups[1].Value[0] - '0' + 1) % 10}")).ToArray());
            Assert.Contains("DIFFERS: median", (await PythonAsync(folder, "cards.zip")).Output, StringComparison.Ordinal);
            await File.WriteAllBytesAsync(zip, Changed("trials.csv", Member("trials.csv").Replace(",no,", ",yes,", StringComparison.Ordinal)).ToArray());
            Assert.Equal(1, (await PythonAsync(folder, "cards.zip")).Code);
            await File.WriteAllBytesAsync(zip, Changed("records.jsonl", Regex.Replace(Member("records.jsonl"), "\"elapsedNs\": \"([0-9])", "\"elapsedNs\": \"7$1")).ToArray());
            Assert.Equal(1, (await PythonAsync(folder, "cards.zip")).Code);
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    [Theory]
    [InlineData("trials.csv")]
    [InlineData("recompute.py")]
    public void Check_AMarkOrTheScriptChanged_IsNamed(string member)
    {
        string changed = member == "trials.csv" ? Member(member).Replace(",yes,", ",no,", StringComparison.Ordinal) : Member(member).Replace("1e9", "1e8", StringComparison.Ordinal);
        Assert.StartsWith(member + ", ", Assert.Single(Publisher.Check(EvidenceZip.Read(Changed(member, changed), "cards.zip")).Differences), StringComparison.Ordinal);
    }

    private static async Task<(int Code, string Output)> PythonAsync(string folder, string zip)
    {
        using var python = System.Diagnostics.Process.Start(new System.Diagnostics.ProcessStartInfo("python3", ["-I", "recompute.py", zip])
        {
            WorkingDirectory = folder, RedirectStandardOutput = true, RedirectStandardError = true,
        })!;
        Task<string> errors = python.StandardError.ReadToEndAsync();
        string output = await python.StandardOutput.ReadToEndAsync() + await errors;
        await python.WaitForExitAsync();
        return (python.ExitCode, output);
    }

    [Theory]
    [InlineData("figures.csv")]
    [InlineData("table.md")]
    [InlineData("table.html")]
    public void Check_AnyOneDigitChanged_NamesCardAndFigure(string member)
    {
        string text = Member(member);
        int table = member == "table.html" ? text.IndexOf("<tbody>", StringComparison.Ordinal) : text.IndexOf("T-0", member == "table.md" ? text.IndexOf("| ---", StringComparison.Ordinal) : 0, StringComparison.Ordinal);
        int end = member == "table.html" ? text.IndexOf("</tbody>", StringComparison.Ordinal) : member == "table.md" ? text.IndexOf("\n\n- ", StringComparison.Ordinal) : text.Length;
        int[] digits = [.. Enumerable.Range(table, end - table).Where(i => char.IsAsciiDigit(text[i]))];
        var random = new Random(7);
        foreach (int at in Enumerable.Range(0, 8).Select(_ => digits[random.Next(digits.Length)]))
        {
            char other = (char)('0' + ((text[at] - '0' + 1 + random.Next(9)) % 10));
            string changed = text[..at] + other + text[(at + 1)..];
            IReadOnlyList<string> differences = Publisher.Check(EvidenceZip.Read(Changed(member, changed), "cards.zip")).Differences;
            string difference = Assert.Single(differences);
            Assert.StartsWith(member + ", card ", difference, StringComparison.Ordinal);
            Assert.Contains("it says \"", difference, StringComparison.Ordinal);
        }
    }

    [Fact]
    public void Check_ADigitOfARawRecordChanged_NamesTheFiguresThatNoLongerFollow()
    {
        string lines = Member("records.jsonl");
        MatchCollection times = Regex.Matches(lines, "\"kind\": \"TRIAL_KIND_RANDOM_READ\".*?\"elapsedNs\": \"([0-9])");
        Assert.NotEmpty(times);

        // The minimum of a series is printed, so that the slowest trial of any card shows; ten times the time makes any trial the slowest.
        int noticed = 0;
        foreach (Match time in times.Take(6))
        {
            string changed = lines[..time.Groups[1].Index] + "9" + lines[time.Groups[1].Index..];
            IReadOnlyList<string> differences = Publisher.Check(EvidenceZip.Read(Changed("records.jsonl", changed), "cards.zip")).Differences;
            noticed += differences.Any(d => d.Contains("randomRead", StringComparison.Ordinal)) ? 1 : 0;
        }

        // Warm-up and invalid trials are in the records too and carry no figure.
        Assert.InRange(noticed, 3, 6);
    }

    [Fact]
    public void Write_NamesOfPeopleMachinesAndPlaces_AreNowhereInTheZip()
    {
        string all = string.Concat(Everything(ZipOf(Make(new PublicationOptions()))));
        foreach (string secret in (string[])
            [ExchangeSamples.Host, ExchangeSamples.User, ExchangeSamples.Shop, ExchangeSamples.Label, "north-mast", "gull-rock", "mill-weir",
             "c0ffee00", "uid=1000", "Anna's", "by Anna", "annas", "/media", "\"price\":", "XTS"])
        {
            Assert.DoesNotContain(secret, all, StringComparison.OrdinalIgnoreCase);
        }

        // The same search finds them in what the zip was made from.
        string before = string.Concat(ExchangeSamples.Entries().Select(e => e.ToString() + (e.Delivered is { } d ? Encoding.UTF8.GetString(d.Record.Payload.Span) : "")));
        Assert.All([ExchangeSamples.Host, ExchangeSamples.User, ExchangeSamples.Shop, "gull-rock", "uid=1000", "XTS"], s => Assert.Contains(s, before, StringComparison.Ordinal));
        Assert.Contains("XTS", string.Concat(Everything(Zip)), StringComparison.Ordinal);
    }

    [Fact]
    public void Of_PriceColumnWithoutConsentOrUnknownNames_AreRefusedWithTheRemedy()
    {
        Assert.Contains("--prices", Assert.Throws<ArgumentException>(() => Make(new PublicationOptions { Columns = ["price"] })).Message, StringComparison.Ordinal);
        Assert.Contains("--help-columns", Assert.Throws<ArgumentException>(() => Make(new PublicationOptions { Columns = ["speed"] })).Message, StringComparison.Ordinal);
        Assert.Contains("T-99", Assert.Throws<ArgumentException>(() => Make(new PublicationOptions { Cards = ["T-99"] })).Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Of_SomeCards_KeepsTheRanksAmongAll()
    {
        Evidence few = Make(new PublicationOptions { Cards = ["T-01"] });
        string row = Assert.Single(few.Markdown.Split('\n'), l => l.Contains("| T-01 |", StringComparison.Ordinal));
        Assert.Contains(row, Make(new PublicationOptions()).Markdown, StringComparison.Ordinal);
        Assert.Contains("1 of", few.Markdown, StringComparison.Ordinal);
    }

    [Fact]
    public void Of_AllCards_CarriesTheAnswerOfTheFirstPageAndNoPriceWithoutConsent()
    {
        using MemoryRecordStore store = EntryStore.Of(ExchangeSamples.Entries());
        string[] take = [.. ReportDesk.Model(MasterDataLoader.Load(store), UseProfile.SystemDisk).First.Single(p => p.Key == "take").Lines];
        string plain = Unescaped(Make(new PublicationOptions()).Markdown), priced = Unescaped(Make(new PublicationOptions { Prices = true }).Markdown);
        string sure = Assert.Single(take, l => l.Contains("ure of the lead", StringComparison.Ordinal));
        Assert.Contains(sure, plain, StringComparison.Ordinal);
        Assert.Contains(sure, priced, StringComparison.Ordinal);
        Assert.Contains("price", priced, StringComparison.Ordinal);
        Assert.DoesNotContain("price", plain, StringComparison.OrdinalIgnoreCase);
        Assert.DoesNotContain("costs", plain, StringComparison.OrdinalIgnoreCase);
        Assert.All(Make(new PublicationOptions { Cards = ["T-01"] }).Markdown.Split('\n'), l => Assert.DoesNotContain("of the lead", l, StringComparison.Ordinal));
    }

    [Fact]
    public void Of_ConditionsThatMetricsShare_AreSaidOnceAndTheMethodInTwoLines()
    {
        string[] lines = [.. Unescaped(Make(new PublicationOptions()).Markdown).Split('\n').Where(l => l.StartsWith("- ", StringComparison.Ordinal))];
        string[] measured = [.. lines.Where(l => l.Contains(": measured as ", StringComparison.Ordinal))];
        Assert.NotEmpty(measured);
        Assert.Equal(measured.Length, measured.Select(l => l[l.IndexOf(": measured as ", StringComparison.Ordinal)..]).Distinct().Count());
        Assert.Equal(2 + measured.Length + 1, lines.Length);
    }

    [Fact]
    public void CheckTable_ADigitLateInALongSentence_IsShown()
    {
        string table = Member("table.md");
        int at = table.IndexOf("**Which card:**", StringComparison.Ordinal);
        int digit = Enumerable.Range(0, table.IndexOf('\n', at) - at).Select(i => at + i).Last(i => char.IsAsciiDigit(table[i]));
        Assert.True(digit - at > 200, table[at..digit]);
        string changed = table[..digit] + (table[digit] == '9' ? '8' : '9') + table[(digit + 1)..];
        Evidence evidence = EvidenceZip.Read(new MemoryStream(Zip), "cards.zip");
        string difference = Assert.Single(Publisher.Check(evidence, (Stream(changed), "post.md")).Differences);
        Match quoted = Regex.Match(difference, "^post\\.md, the answer: it says \"(.*)\"; the records give \"(.*)\"\\.$", RegexOptions.Singleline);
        Assert.True(quoted.Success && quoted.Groups[1].Value != quoted.Groups[2].Value, difference);
    }

    [Fact]
    public void Of_ALink_StandsInBothTablesAndTheZipAgrees()
    {
        const string link = "https://cards.example/night/cards.zip?a=1&b=2";
        Evidence linked = Make(new PublicationOptions { Link = link });
        Assert.Contains($"](<{link}>)", linked.Markdown, StringComparison.Ordinal);
        Assert.Contains($"<a href=\"{link.Replace("&", "&amp;", StringComparison.Ordinal)}\">", linked.Html, StringComparison.Ordinal);
        byte[] zip = ZipOf(linked);
        Assert.Empty(Publisher.Check(EvidenceZip.Read(new MemoryStream(zip), "cards.zip")).Differences);
        Assert.Contains("\"link\"", Assert.Throws<EvidenceException>(() => EvidenceZip.Read(Changed(zip, "about.json", Member(zip, "about.json").Replace("https:", "script:", StringComparison.Ordinal)), "cards.zip")).Message, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("cards.zip")]
    [InlineData("javascript:alert(1)")]
    [InlineData("https://x.example/a b")]
    [InlineData("https://x.example/>)[y](z")]
    public void IsLink_WhatAPageWouldReadInAnotherWay_IsNone(string text) => Assert.False(PublicationOptions.IsLink(text));

    [Fact]
    public void CheckTable_CopiedWithOtherLineEnds_Agrees()
    {
        Evidence evidence = EvidenceZip.Read(new MemoryStream(Zip), "cards.zip");
        string otherEnds = Member("table.md").Replace("\n", "\r\n", StringComparison.Ordinal) + "\r\n";
        Assert.Empty(Publisher.Check(evidence, (Stream(otherEnds), "post.md")).Differences);
        Assert.Empty(Publisher.Check(evidence, (Stream(Member("table.html")), "post.html")).Differences);
        Assert.NotEmpty(Publisher.Check(evidence, (Stream(Member("table.md") + "and 9999 IOPS"), "post.md")).Differences);
    }

    [Fact]
    public void Read_DamagedZips_AreRefusedInOneSentence()
    {
        var random = new Random(11);
        for (int i = 0; i < 100; i++)
        {
            byte[] damaged = [.. Zip];
            for (int n = 0; n <= i % 4; n++)
            {
                damaged[random.Next(damaged.Length)] = (byte)random.Next(256);
            }

            if (i % 5 == 0)
            {
                damaged = damaged[..random.Next(damaged.Length)];
            }

            try
            {
                EvidenceZip.Read(new MemoryStream(damaged), "cards.zip");
            }
            catch (EvidenceException e)
            {
                Assert.NotEmpty(e.Message);
            }
        }
    }

    [Fact]
    public void Read_LinesOfAnyText_AreEntriesOrRefused()
    {
        string[] good = [.. Member("records.jsonl").Split('\n', StringSplitOptions.RemoveEmptyEntries)];
        var random = new Random(13);
        for (int i = 0; i < 3_000; i++)
        {
            var line = new StringBuilder(good[random.Next(good.Length)]);
            for (int n = 0; n <= i % 3; n++)
            {
                line[random.Next(line.Length)] = (char)random.Next(32, 127);
            }

            try
            {
                RecordLines.Read(line.ToString());
            }
            catch (EvidenceException e)
            {
                Assert.NotEmpty(e.Message);
            }
        }
    }

    [Theory]
    [InlineData("/media/ann lee/PHOTOS/x went away", "ann lee", "PHOTOS")]
    [InlineData("opening /home/ann lee/notes: no such file", "ann lee", "notes")]
    [InlineData("BENCH-ONE lost power", "bench-one", "bench-one")]
    public void Clean_Sentences_LoseNamesAndPaths(string text, string secret, string other)
    {
        var scrubber = new Scrubber();
        scrubber.AddPath("/media/ann lee/PHOTOS");
        scrubber.AddName("bench-one", "board-1");
        scrubber.Close();
        string clean = scrubber.Clean(text);
        Assert.DoesNotContain(secret, clean, StringComparison.OrdinalIgnoreCase);
        Assert.DoesNotContain(other, clean, StringComparison.OrdinalIgnoreCase);
    }

    [Fact]
    public void Clean_PathsOfTheKernel_Stay()
    {
        var scrubber = new Scrubber();
        scrubber.AddPath("/dev/mmcblk0");
        scrubber.Close();
        const string text = "/sys/block/mmcblk0/device/ssr: permission denied; /dev/mmcblk0 gave 12 MB/s";
        Assert.Equal(text, scrubber.Clean(text));
    }

    private static MemoryStream Stream(string text) => new(Encoding.UTF8.GetBytes(text));

    private static Evidence Make(PublicationOptions options) => Publisher.Make(ExchangeSamples.Entries(), options, null);

    private static byte[] ZipOf(Evidence evidence)
    {
        using var to = new MemoryStream();
        EvidenceZip.Write(evidence, to);
        return to.ToArray();
    }

    private static string Unescaped(string markdown) => markdown.Replace("\\", "", StringComparison.Ordinal);

    private static string Member(string name) => Member(Zip, name);

    private static string Member(byte[] from, string name)
    {
        using var zip = new ZipArchive(new MemoryStream(from));
        using var reader = new StreamReader(zip.GetEntry(name)!.Open(), new UTF8Encoding(false), detectEncodingFromByteOrderMarks: false);
        return reader.ReadToEnd();
    }

    private static IEnumerable<string> Everything(byte[] zip)
    {
        using var archive = new ZipArchive(new MemoryStream(zip));
        foreach (ZipArchiveEntry entry in archive.Entries)
        {
            using var reader = new StreamReader(entry.Open());
            yield return entry.Name + reader.ReadToEnd();
        }
    }

    private static MemoryStream Changed(string member, string text) => Changed(Zip, member, text);

    private static MemoryStream Changed(byte[] from, string member, string text)
    {
        var copy = new MemoryStream();
        copy.Write(from);
        using (var zip = new ZipArchive(copy, ZipArchiveMode.Update, leaveOpen: true))
        {
            zip.GetEntry(member)!.Delete();
            using Stream to = zip.CreateEntry(member).Open();
            to.Write(Encoding.UTF8.GetBytes(text));
        }

        copy.Position = 0;
        return copy;
    }
}
