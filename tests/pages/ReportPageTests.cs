using Microsoft.Playwright;

namespace Cardassay.Pages.Tests;

/// <summary>The report in a real browser: readable, reachable, the same with and without script, and quiet on the network.</summary>
[Collection("pages")]
public sealed class ReportPageTests(Browser browser, Bench bench)
{
    [SkippableTheory]
    [InlineData(1280, ColorScheme.Light)]
    [InlineData(1280, ColorScheme.Dark)]
    [InlineData(390, ColorScheme.Light)]
    [InlineData(390, ColorScheme.Dark)]
    public async Task Report_AtEveryWidthAndScheme_IsAccessibleAndFits(int width, ColorScheme scheme)
    {
        await using IBrowserContext session = await browser.SessionAsync(width, scheme, axe: true);
        IPage page = await session.NewPageAsync();
        var watch = new Watch(page);
        await page.GotoAsync("file://" + await bench.ReportAsync());

        await Looks.LeaveAsync(page, $"report-{width}-{scheme}");
        await Looks.AssertNoSidewaysScrollAsync(page);
        await Looks.AssertChartTextsApartAsync(page);
        await Looks.AssertAccessibleAsync(page);
        Assert.Empty(watch.Seen);
    }

    [SkippableFact]
    public async Task Report_Charts_EachHaveATitleAndWords()
    {
        await using IBrowserContext session = await browser.SessionAsync();
        IPage page = await session.NewPageAsync();
        await page.GotoAsync("file://" + await bench.ReportAsync());

        int charts = await page.Locator("figure.chart > svg[role=img]").CountAsync();
        Assert.True(charts > 50, $"{charts} charts");
        string[] wordless = await page.EvaluateAsync<string[]>(
            """
            () => [...document.querySelectorAll("figure.chart > svg")].filter(s => {
              const names = (s.getAttribute("aria-labelledby") || "").split(" ").map(id => document.getElementById(id)?.textContent.trim() ?? "");
              return names.length < 2 || names.some(n => n.length < 10);
            }).map(s => s.outerHTML.slice(0, 200))
            """);
        Assert.Empty(wordless);
        foreach (string title in (string[])["Ranks with intervals and groups", "Random read: every figure", "Latency: how many operations take longer", "Address space", "Performance under the profile against price", "Ranks under other weights"])
        {
            Assert.NotEqual(0, await page.Locator("figcaption", new PageLocatorOptions { HasText = title }).CountAsync());
        }
    }

    [SkippableFact]
    public async Task Report_SortedAndFiltered_ShowsTheSameRowsInAnotherOrder()
    {
        await using IBrowserContext session = await browser.SessionAsync();
        IPage page = await session.NewPageAsync();
        var watch = new Watch(page);
        await page.GotoAsync("file://" + await bench.ReportAsync());
        ILocator tags = page.Locator("table.ranking tbody tr:not(.group):not([hidden]) th a");
        string[] before = [.. await tags.AllTextContentsAsync()];

        // By keyboard alone.
        ILocator head = page.Locator("table.ranking thead th").Nth(2);
        await head.Locator("[role=button]").FocusAsync();
        await page.Keyboard.PressAsync("Enter");
        Assert.Equal("descending", await head.GetAttributeAsync("aria-sort"));
        string[] sorted = [.. await tags.AllTextContentsAsync()];
        Assert.Equal(before.Order(), sorted.Order());
        Assert.NotEqual(before, sorted);
        double[] figures = await page.EvaluateAsync<double[]>("() => [...document.querySelectorAll('table.ranking tbody tr:not(.group)')].map(r => r.cells[2].querySelector('b')?.textContent).filter(Boolean).map(Number)");
        Assert.Equal(figures.OrderDescending(), figures);

        await page.GetByLabel("Show only cards with").FillAsync("t-0");
        Assert.Equal(before.Where(t => t.Contains("T-0", StringComparison.Ordinal)).Order(), (await tags.AllTextContentsAsync()).Order());
        await page.GetByLabel("Show only cards with").FillAsync("");
        await page.GetByText("Groups as ranked").ClickAsync();
        Assert.Equal(before, await tags.AllTextContentsAsync());
        Assert.Empty(watch.Seen);
    }

    [SkippableFact]
    public async Task Report_WithScriptsOff_KeepsThePlainTable()
    {
        string file = await bench.ReportAsync();
        string[] with, without;
        await using (IBrowserContext session = await browser.SessionAsync())
        {
            IPage page = await session.NewPageAsync();
            await page.GotoAsync("file://" + file);
            with = [.. await page.Locator("table.ranking tbody tr").AllTextContentsAsync()];
        }

        await using IBrowserContext off = await browser.SessionAsync(script: false);
        IPage plain = await off.NewPageAsync();
        await plain.GotoAsync("file://" + file);
        without = [.. await plain.Locator("table.ranking tbody tr").AllTextContentsAsync()];
        Assert.Equal(with, without);
        Assert.True(without.Length > 20);
        Assert.Equal(0, await plain.Locator(".tools").CountAsync());
    }

    [SkippableFact]
    public async Task Report_HostileNames_StayText()
    {
        await using IBrowserContext session = await browser.SessionAsync();
        IPage page = await session.NewPageAsync();
        var watch = new Watch(page);
        await page.GotoAsync("file://" + await bench.ReportAsync());

        Assert.Contains(Bench.Hostile, await page.Locator("body").TextContentAsync(), StringComparison.Ordinal);
        Assert.Equal(0, await page.Locator("img").CountAsync());
        Assert.Equal(1, await page.Locator("script").CountAsync());
        Assert.Empty(watch.Seen);
    }

    [SkippableFact]
    public async Task Report_Printed_IsA4AndWhole()
    {
        await using IBrowserContext session = await browser.SessionAsync();
        IPage page = await session.NewPageAsync();
        await page.GotoAsync("file://" + await bench.ReportAsync());
        await page.EmulateMediaAsync(new PageEmulateMediaOptions { Media = Media.Print });

        // A4 less the margins of the style sheet is 186 mm, 703 CSS pixels: nothing may be wider.
        await page.SetViewportSizeAsync(703, 1000);
        await Looks.LeaveAsync(page, "report-print");
        await Looks.AssertNoSidewaysScrollAsync(page);
        string[] cut = await page.EvaluateAsync<string[]>("() => [...document.querySelectorAll('table, figure')].filter(e => e.getBoundingClientRect().right > innerWidth + 1).map(e => e.querySelector('caption, figcaption')?.textContent ?? e.className)");
        Assert.Empty(cut);
        byte[] pdf = await page.PdfAsync(new PagePdfOptions { PreferCSSPageSize = true });
        Assert.StartsWith("%PDF", System.Text.Encoding.ASCII.GetString(pdf, 0, 4), StringComparison.Ordinal);
        if (Environment.GetEnvironmentVariable("CARDASSAY_LOOK") is { Length: > 0 } folder)
        {
            await File.WriteAllBytesAsync(Path.Combine(folder, "report.pdf"), pdf);
        }
    }
}
