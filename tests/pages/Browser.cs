using Microsoft.Playwright;

namespace Cardassay.Pages.Tests;

/// <summary>One Chromium for all tests of this project; a test skips, with the reason, only where there is none.</summary>
public sealed class Browser : IAsyncLifetime
{
    private static readonly string[] Places = ["/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"];

    // A profile of its own comes with every launch; nothing may be fetched from anywhere.
    private static readonly string[] Flags =
    [
        "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync",
    ];

    private IPlaywright? _playwright;
    private IBrowser? _browser;

    /// <summary>Opens pages in a fresh session.</summary>
    internal async Task<IBrowserContext> SessionAsync(int width = 1280, ColorScheme scheme = ColorScheme.Light, bool script = true, bool axe = false)
    {
        string missing = $"no Chromium: none of {string.Join(", ", Places)} is there";
        Assert.False(_browser is null && Environment.GetEnvironmentVariable("CARDASSAY_REQUIRE_CHROMIUM") == "1", missing);
        Skip.If(_browser is null, missing);
        IBrowserContext session = await _browser!.NewContextAsync(new BrowserNewContextOptions
        {
            ViewportSize = new ViewportSize { Width = width, Height = 900 }, ColorScheme = scheme, JavaScriptEnabled = script, BypassCSP = axe,
        });
        session.SetDefaultTimeout(60_000); // other work may keep the machine busy
        return session;
    }

    /// <inheritdoc/>
    public async Task InitializeAsync()
    {
        if (Places.FirstOrDefault(File.Exists) is not { } chromium)
        {
            return;
        }

        _playwright = await Playwright.CreateAsync();
        _browser = await _playwright.Chromium.LaunchAsync(new BrowserTypeLaunchOptions { ExecutablePath = chromium, Args = Flags, Timeout = 120_000 });
    }

    /// <inheritdoc/>
    public async Task DisposeAsync()
    {
        if (_browser is not null)
        {
            await _browser.DisposeAsync();
        }

        _playwright?.Dispose();
    }
}
