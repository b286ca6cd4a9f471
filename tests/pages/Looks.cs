using Deque.AxeCore.Commons;
using Microsoft.Playwright;

namespace Cardassay.Pages.Tests;

/// <summary>What every page is checked for, by a general accessibility engine and by measuring.</summary>
internal static class Looks
{
    /// <summary>axe-core finds no violation of WCAG 2.0 to 2.2, levels A and AA, or of its best practices.</summary>
    internal static async Task AssertAccessibleAsync(IPage page)
    {
        // Its own call in one frame, since no page has more: handing over every element of every rule, twice, took minutes a page.
        await page.EvaluateAsync(new BundledAxeScriptProvider().GetScript());
        string[] found = await page.EvaluateAsync<string[]>(
            """
            async () => {
              const result = await axe.run({ resultTypes: ["violations"] });
              if (result.passes.length === 0) throw new Error("no rule applied");
              return result.violations.map(v => `${v.id} (${v.impact}): ${v.help}\n  ` + v.nodes.slice(0, 5).map(n => `${n.html} -> ${n.failureSummary}`).join("\n  "));
            }
            """);
        Assert.True(found.Length == 0, string.Join('\n', found));
    }

    /// <summary>Nothing makes the page wider than the window.</summary>
    internal static async Task AssertNoSidewaysScrollAsync(IPage page)
    {
        int over = await page.EvaluateAsync<int>("() => document.documentElement.scrollWidth - window.innerWidth");
        Assert.True(over <= 0, $"the page is {over} px wider than the window");
    }

    /// <summary>In no chart does a text leave its picture or lie on another text.</summary>
    internal static async Task AssertChartTextsApartAsync(IPage page)
    {
        string[] clashes = await page.EvaluateAsync<string[]>(
            """
            () => {
              const found = [];
              for (const svg of document.querySelectorAll("figure.chart > svg")) {
                const frame = svg.getBoundingClientRect();
                if (frame.width === 0) continue;
                const texts = [...svg.querySelectorAll("text")].map(t => ({ t: t.textContent, r: t.getBoundingClientRect() })).filter(t => t.t.trim());
                const title = svg.querySelector("title").textContent;
                texts.forEach((a, i) => {
                  if (a.r.left < frame.left - 1 || a.r.right > frame.right + 1 || a.r.top < frame.top - 1 || a.r.bottom > frame.bottom + 1) found.push(`${title}: "${a.t}" leaves the chart`);
                  for (const b of texts.slice(i + 1)) {
                    const across = Math.min(a.r.right, b.r.right) - Math.max(a.r.left, b.r.left), down = Math.min(a.r.bottom, b.r.bottom) - Math.max(a.r.top, b.r.top);
                    if (across > 1 && down > 3) found.push(`${title}: "${a.t}" lies on "${b.t}"`);
                  }
                });
              }
              return found;
            }
            """);
        Assert.True(clashes.Length == 0, string.Join('\n', clashes.Take(20)));
    }

    /// <summary>Leaves a picture where a person can look at it; only with CARDASSAY_LOOK=folder.</summary>
    internal static async Task LeaveAsync(IPage page, string name)
    {
        if (Environment.GetEnvironmentVariable("CARDASSAY_LOOK") is { Length: > 0 } folder)
        {
            Directory.CreateDirectory(folder);
            await page.ScreenshotAsync(new PageScreenshotOptions { Path = Path.Combine(folder, name + ".png"), FullPage = true });
            await page.ScreenshotAsync(new PageScreenshotOptions { Path = Path.Combine(folder, name + "-top.png"), Clip = new Clip { X = 0, Y = 0, Width = page.ViewportSize!.Width, Height = 1460 }, FullPage = true });
        }
    }
}
