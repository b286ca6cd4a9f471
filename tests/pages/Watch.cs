using Microsoft.Playwright;

namespace Cardassay.Pages.Tests;

/// <summary>Notes what a page must never do: open a dialog, err, break its own policy, or ask another host for anything.</summary>
internal sealed class Watch
{
    private readonly List<string> _seen = [];

    internal Watch(IPage page, string? origin = null)
    {
        page.Dialog += async (_, dialog) =>
        {
            Note("dialog: " + dialog.Message);
            await dialog.DismissAsync();
        };
        page.PageError += (_, error) => Note("error: " + error);
        page.Console += (_, message) =>
        {
            if (message.Type is "error" or "warning")
            {
                Note($"console {message.Type}: {message.Text}");
            }
        };
        page.Request += (_, request) =>
        {
            if (!request.Url.StartsWith("data:", StringComparison.Ordinal) && !(origin is not null && request.Url.StartsWith(origin, StringComparison.Ordinal)) && !request.Url.StartsWith("file:", StringComparison.Ordinal))
            {
                Note("request: " + request.Url);
            }
        };
    }

    internal string[] Seen
    {
        get
        {
            lock (_seen)
            {
                return [.. _seen];
            }
        }
    }

    private void Note(string what)
    {
        lock (_seen)
        {
            _seen.Add(what);
        }
    }
}
