using System.Text;
using Cardassay.Collector.Hosting;

namespace Cardassay.Collector.Notices.Morning;

/// <summary>
/// Writes the report into a folder a person named: page, Markdown and table of the night, then the index of all nights there. Each file is
/// there whole or not at all. The folder is never made: one that is missing is a share that is not mounted.
/// </summary>
internal sealed class FolderChannel(string folder, MorningShelf shelf) : INoticeChannel
{
    /// <summary>What the name of every folder begins with.</summary>
    internal const string Prefix = "folder ";

    private const string IndexName = "index.html";

    /// <summary>A share that hangs must not hold up the other messages.</summary>
    private static readonly TimeSpan Answers = TimeSpan.FromMinutes(1);

    private Task<SendOutcome> _running = Task.FromResult(SendOutcome.Done);

    /// <inheritdoc/>
    public string Name => Prefix + folder;

    /// <summary>A share may be away for a while, and each night has a file of its own.</summary>
    public TimeSpan Patience => TimeSpan.FromDays(14);

    /// <inheritdoc/>
    public bool Takes(NoticeKind kind) => kind is NoticeKind.Morning or NoticeKind.Test;

    /// <inheritdoc/>
    public async Task<SendOutcome> SendAsync(Notice notice, CancellationToken cancellationToken)
    {
        if (!_running.IsCompleted)
        {
            return Silent();
        }

        _running = Task.Run(() => TryAsync(notice), cancellationToken);
        try
        {
            return await _running.WaitAsync(Answers, cancellationToken);
        }
        catch (TimeoutException)
        {
            return Silent();
        }
    }

    /// <summary>Files of a night.</summary>
    internal static string PageOf(string night) => night + ".html";

    private SendOutcome Silent() => SendOutcome.Later($"The folder {folder} does not answer; look at the share or disk it is on.");

    private async Task<SendOutcome> TryAsync(Notice notice)
    {
        if (!Directory.Exists(folder))
        {
            return SendOutcome.Later($"There is no folder {folder}, or this user may not look into it; "
                + "mount the share or make the folder.");
        }

        try
        {
            if (notice.Kind == NoticeKind.Test)
            {
                string test = Path.Combine(folder, $".cardassay-{Guid.NewGuid():N}");
                await File.WriteAllBytesAsync(test, [0]);
                File.Delete(test);
                return SendOutcome.Done;
            }

            if (shelf.Find(notice.Key) is not { } report)
            {
                return SendOutcome.Never("The report is no longer kept.");
            }

            string index = Path.Combine(folder, IndexName);
            if (File.Exists(index) && !FolderIndex.IsOurs(await File.ReadAllTextAsync(index)))
            {
                return SendOutcome.Later($"{index} is of something else and is left alone; name a folder that only reports are in.");
            }

            await WriteAsync(PageOf(report.Night), report.Html);
            await WriteAsync(report.Night + ".md", report.Markdown);
            await WriteAsync(report.Night + "-table.md", report.Table);
            await WriteAsync(IndexName, FolderIndex.Render(folder, shelf.Lines()));
            return SendOutcome.Done;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or CommandException)
        {
            return SendOutcome.Later($"The folder {folder} did not take the report: {e.Message}");
        }
    }

    private async Task WriteAsync(string name, string text)
    {
        string path = Path.Combine(folder, name);
        byte[] bytes = Encoding.UTF8.GetBytes(text);
        if (File.Exists(path) && new FileInfo(path).Length == bytes.Length
            && (await File.ReadAllBytesAsync(path)).AsSpan().SequenceEqual(bytes))
        {
            return; // whoever copies what changed has nothing to copy
        }

        foreach (string left in Directory.EnumerateFiles(folder, name + ".*.part").ToArray())
        {
            File.Delete(left); // of a collector that was ended in the middle
        }

        await WholeFile.WriteAsync(path, to => to.WriteAsync(bytes).AsTask(), "the report", ReadableAsTheFolder());
    }

    /// <summary>Who may look into the folder may read what is in it, whatever the service's own files are like.</summary>
    private UnixFileMode ReadableAsTheFolder()
    {
        const UnixFileMode owner = UnixFileMode.UserRead | UnixFileMode.UserWrite;
        return OperatingSystem.IsWindows()
            ? owner
            : owner | (File.GetUnixFileMode(folder) & (UnixFileMode.GroupRead | UnixFileMode.OtherRead));
    }
}
