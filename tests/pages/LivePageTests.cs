using System.Diagnostics;
using System.Net;
using Microsoft.Playwright;

namespace Cardassay.Pages.Tests;

/// <summary>The collector's own page in a real browser.</summary>
[Collection("pages")]
public sealed class LivePageTests(Browser browser, Bench bench)
{
    [SkippableTheory]
    [InlineData(1280, ColorScheme.Light)]
    [InlineData(1280, ColorScheme.Dark)]
    [InlineData(390, ColorScheme.Light)]
    [InlineData(390, ColorScheme.Dark)]
    public async Task Page_AtEveryWidthAndScheme_IsAccessibleAndFits(int width, ColorScheme scheme)
    {
        await using IBrowserContext session = await browser.SessionAsync(width, scheme, axe: true);
        IPage page = await session.NewPageAsync();
        var watch = new Watch(page, bench.Page);
        await page.GotoAsync(bench.Page);
        await page.GetByText("This page follows the collector").WaitForAsync();
        await page.Locator(".finding").First.WaitForAsync();

        await Looks.LeaveAsync(page, $"live-{width}-{scheme}");
        await Looks.AssertNoSidewaysScrollAsync(page);
        await Looks.AssertAccessibleAsync(page);
        Assert.Empty(watch.Seen);
    }

    [SkippableFact]
    public async Task Page_BoardDeliversAndReports_ShowsItWithoutAReload()
    {
        // A collector of its own: nothing is there when the page opens.
        string data = Path.Combine(bench.Root, "watched");
        (Process collector, string address, string at) = await Bench.ServeAsync(data);
        using Process ended = collector;
        try
        {
            await using IBrowserContext session = await browser.SessionAsync();
            IPage page = await session.NewPageAsync();
            var watch = new Watch(page, at);
            await page.GotoAsync(at);
            await page.GetByText("No board has reported since this collector started.").WaitForAsync();
            await page.EvaluateAsync("() => { window.untouched = true; }");

            string board = Path.Combine(bench.Root, "arriving");
            await Bench.RunAsync("/bin/cp", "-a", bench.LateBoard, board);
            await Bench.RunAsync(Programs.Agent, "work", "--collector", address, "--board", Path.GetFileName(bench.LateBoard), "--data", board, "--until-idle");

            await page.Locator(".board h3", new PageLocatorOptions { HasText = Path.GetFileName(bench.LateBoard) }).WaitForAsync();
            await page.Locator("td.links a").First.WaitForAsync();
            Assert.True(await page.EvaluateAsync<bool>("() => window.untouched === true"));
            Assert.Empty(watch.Seen);

            await Bench.StopAsync(collector);
            await page.GetByText("The collector does not answer").WaitForAsync();
        }
        finally
        {
            await Bench.StopAsync(collector);
        }
    }

    [SkippableFact]
    public async Task Page_HostileClaim_StaysText()
    {
        await using IBrowserContext session = await browser.SessionAsync();
        IPage page = await session.NewPageAsync();
        var watch = new Watch(page, bench.Page);
        await page.GotoAsync(bench.Page + "report");

        Assert.Contains(Bench.Hostile, await page.Locator("body").TextContentAsync(), StringComparison.Ordinal);
        Assert.Equal(0, await page.Locator("img").CountAsync());
        await page.GotoAsync(bench.Page);
        await page.Locator(".finding").First.WaitForAsync();
        Assert.Equal(0, await page.Locator("img").CountAsync());
        Assert.Equal(1, await page.Locator("script").CountAsync());
        Assert.Empty(watch.Seen);
    }

    [SkippableFact]
    public async Task Page_ReportOfEveryNight_IsLinkedAndOpens()
    {
        await using IBrowserContext session = await browser.SessionAsync();
        IPage page = await session.NewPageAsync();
        await page.GotoAsync(bench.Page);
        await page.Locator("td.links a").First.WaitForAsync();
        string[] links = await page.EvaluateAsync<string[]>("() => [...document.querySelectorAll('td.links a')].map(a => a.getAttribute('href'))");
        Assert.Equal(15, links.Length); // three nights in five renderings
        string[] spans = [.. await page.Locator("tbody th").AllTextContentsAsync()];
        string[] pages = [.. links.Where(l => l.Contains("format=html", StringComparison.Ordinal))];
        for (int i = 0; i < pages.Length; i++)
        {
            await page.GotoAsync(bench.Page.TrimEnd('/') + pages[i]);
            Assert.Contains(spans[i], await page.Locator("h1").TextContentAsync(), StringComparison.Ordinal);
        }
    }

    [Fact]
    public async Task Report_OfOneNight_IsTheSameBytesEachTimeAndLeavesLaterNightsOut()
    {
        using var client = new HttpClient();
        string live = await client.GetStringAsync(bench.Page);
        string[] nights = [.. live.Split("night=").Skip(1).Select(t => t[..10]).Distinct().Order(StringComparer.Ordinal)];
        Assert.Equal(3, nights.Length);
        string first = await client.GetStringAsync($"{bench.Page}report?night={nights[0]}&format=json");
        Assert.Equal(first, await client.GetStringAsync($"{bench.Page}report?night={nights[0]}&format=json"));
        string last = await client.GetStringAsync($"{bench.Page}report?night={nights[2]}&format=json");
        Assert.Contains("\"received\": null", first, StringComparison.Ordinal); // counted up to today, not to that night
        Assert.DoesNotContain("\"received\": null", last, StringComparison.Ordinal);
        Assert.DoesNotContain($"\"when\": \"{nights[2]}", first, StringComparison.Ordinal);
        Assert.Contains($"\"when\": \"{nights[2]}", last, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("report?night=1999-01-01", HttpStatusCode.NotFound)]
    [InlineData("report?night=%3Cscript%3E", HttpStatusCode.BadRequest)]
    [InlineData("report?format=%3Cscript%3E", HttpStatusCode.BadRequest)]
    public async Task Report_AskedForWrongly_SaysSoInPlainText(string path, HttpStatusCode status)
    {
        using var client = new HttpClient();
        using HttpResponseMessage response = await client.GetAsync(bench.Page + path);
        string text = await response.Content.ReadAsStringAsync();

        Assert.Equal(status, response.StatusCode);
        Assert.Equal("text/plain", response.Content.Headers.ContentType?.MediaType);
        Assert.DoesNotContain("<", text, StringComparison.Ordinal);
        Assert.EndsWith(".\n", text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Page_Headers_AllowNothingFromElsewhereAndNothingInline()
    {
        using var client = new HttpClient();
        using HttpResponseMessage response = await client.GetAsync(bench.Page);
        string policy = string.Join(';', response.Headers.GetValues("Content-Security-Policy"));

        Assert.Contains("default-src 'none'", policy, StringComparison.Ordinal);
        Assert.Contains("connect-src 'self'", policy, StringComparison.Ordinal);
        Assert.Contains("frame-ancestors 'none'", policy, StringComparison.Ordinal);
        Assert.DoesNotContain("unsafe", policy, StringComparison.Ordinal);
        Assert.Equal(["nosniff"], response.Headers.GetValues("X-Content-Type-Options"));
        using HttpResponseMessage report = await client.GetAsync(bench.Page + "report");
        Assert.Contains("script-src 'sha256-", string.Join(';', report.Headers.GetValues("Content-Security-Policy")), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Stream_WhenTheCollectorStops_EndsAtOnce()
    {
        (Process collector, _, string at) = await Bench.ServeAsync(Path.Combine(bench.Root, "stopping"));
        using var client = new HttpClient();
        await using Stream stream = await client.GetStreamAsync(at + "events");
        using var reader = new StreamReader(stream);
        Assert.Equal("event: parts", await reader.ReadLineAsync());

        var watch = Stopwatch.StartNew();
        using (Process signal = Process.Start("kill", ["-TERM", collector.Id.ToString(System.Globalization.CultureInfo.InvariantCulture)]))
        {
            await signal.WaitForExitAsync();
        }

        await collector.WaitForExitAsync();
        Assert.Equal(0, collector.ExitCode);

        // An open stream would hold the stop for the ten seconds of patience the host has.
        Assert.True(watch.Elapsed < TimeSpan.FromSeconds(9), $"{watch.Elapsed}");
        collector.Dispose();
    }
}
