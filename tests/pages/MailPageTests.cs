using System.Diagnostics;
using System.Globalization;
using System.Text.Json;
using Cardassay.Fixtures;
using Microsoft.Playwright;
using MimeKit;

namespace Cardassay.Pages.Tests;

/// <summary>The morning's mail as it arrives, shown as a mail program shows it: no script, nothing loaded.</summary>
[Collection("pages")]
public sealed class MailPageTests(Browser browser, Bench bench)
{
    /// <summary>One step of a second: the night has something to report.</summary>
    private const string Plan = """
        { "name": "one-second", "version": "1", "description": "Something that was measured in this night.", "repetitions": 1, "regionBytes": "4 MiB",
          "steps": [ { "kind": "randomRead", "seconds": 1 } ] }
        """;

    [SkippableFact]
    public async Task Mail_OfANight_ArrivesAndReadsOnEveryScreen()
    {
        await using IBrowserContext first = await browser.SessionAsync();
        await using var server = new MailServer();
        string data = await bench.CopyAsync("mailed");
        DateTime run = DateTime.UtcNow;
        await MeasureAsync(data);
        File.WriteAllText(Path.Combine(data, "notices.json"), Settings(server.Port, run));
        MimeMessage mail = await ReceiveAsync(data, server);

        foreach ((int width, ColorScheme scheme) in new[] { (700, ColorScheme.Light), (700, ColorScheme.Dark), (390, ColorScheme.Light), (390, ColorScheme.Dark) })
        {
            await using IBrowserContext session = await browser.SessionAsync(width, scheme, axe: true);
            IPage page = await session.NewPageAsync();
            var watch = new Watch(page);
            await page.SetContentAsync(mail.HtmlBody!);
            await Looks.LeaveAsync(page, $"mail-{width}-{scheme}");
            await Looks.AssertNoSidewaysScrollAsync(page);
            await Looks.AssertAccessibleAsync(page);
            Assert.Empty(watch.Seen);
        }

        // What a person asks first, in both bodies, and the names that try to be markup as text.
        await using IBrowserContext plain = await browser.SessionAsync(390, script: false);
        IPage shown = await plain.NewPageAsync();
        await shown.SetContentAsync(mail.HtmlBody!);
        string text = await shown.Locator("body").InnerTextAsync();
        Assert.Equal(0, await shown.Locator("img, script, link, iframe").CountAsync());
        foreach (string heading in (string[])["Take", "Send back", "Do now", "Night", "Tonight"])
        {
            Assert.Contains(heading, text, StringComparison.OrdinalIgnoreCase);
            Assert.Contains(heading, mail.TextBody, StringComparison.OrdinalIgnoreCase);
        }

        Assert.Contains("T-90", text, StringComparison.Ordinal);
        Assert.Equal("text/html", Assert.Single(mail.Attachments).ContentType.MimeType);
    }

    /// <summary>Measures a folder as a card with a sticker of its own, against a collector on this data.</summary>
    private async Task MeasureAsync(string data)
    {
        (Process collector, string address, _) = await Bench.ServeAsync(data);
        using Process ended = collector;
        string plan = Path.Combine(bench.Root, "one-second.json"), card = Directory.CreateDirectory(Path.Combine(bench.Root, "card")).FullName;
        File.WriteAllText(plan, Plan);
        await Bench.RunAsync(
            Programs.Agent, "measure", card, "--plan", plan, "--tag", "T-90", "--allow-fixed-disk", "--collector", address, "--board", "spare-1", "--data", Path.Combine(bench.Root, "spare-1"));
        await Bench.StopAsync(collector);
    }

    private static async Task<MimeMessage> ReceiveAsync(string data, MailServer server)
    {
        (Process collector, _, _) = await Bench.ServeAsync(data);
        using Process ended = collector;
        try
        {
            // The run's end is told as well, in text alone.
            MimeMessage? report;
            for (long began = Stopwatch.GetTimestamp(); (report = server.Mails.FirstOrDefault(m => m.HtmlBody is not null)) is null; await Task.Delay(200))
            {
                Assert.True(Stopwatch.GetElapsedTime(began) < TimeSpan.FromMinutes(3), "no mail came in three minutes");
                Assert.False(collector.HasExited, "the collector ended");
            }

            return report;
        }
        finally
        {
            await Bench.StopAsync(collector);
        }
    }

    /// <summary>
    /// A report is made in the morning on the night that the day's midnight is of: in a zone where the hour of the run is the first of a day, it is made at once.
    /// </summary>
    private static string Settings(int port, DateTime run)
    {
        // West is positive in these names (tz database, file etcetera).
        string zone = run.Hour == 0 ? "Etc/UTC" : string.Create(CultureInfo.InvariantCulture, $"Etc/GMT{(run.Hour <= 12 ? run.Hour : run.Hour - 24):+0;-0}");
        return JsonSerializer.Serialize(new
        {
            mail = new { server = "127.0.0.1", port, security = "none", from = "bench@example.org", to = new[] { "me@example.org" } },
            morning = new { at = "00:00", mail = true },
            timeZone = zone,
        });
    }
}
