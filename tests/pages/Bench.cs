using System.Diagnostics;

namespace Cardassay.Pages.Tests;

/// <summary>A collector with the invented data set of Tarrow and names that try to be markup, serving its page.</summary>
public sealed class Bench : IAsyncLifetime
{
    /// <summary>Text that would become an element, a handler or a link where escaping fails.</summary>
    internal const string Hostile = "<img src=x onerror=alert(1)>\"'</p><script>alert(2)</script>";

    private Process? _collector;
    private string? _report;

    internal string Root { get; } = Directory.CreateTempSubdirectory("cardassay-pages-").FullName;

    /// <summary>Address of the page, with a slash at its end.</summary>
    internal string Page { get; private set; } = "";

    /// <summary>Address boards connect to.</summary>
    internal string Address { get; private set; } = "";

    /// <summary>Boards of the data set that were not delivered at the start, for the tests that watch one arrive.</summary>
    internal string LateBoard { get; private set; } = "";

    /// <inheritdoc/>
    public async Task InitializeAsync()
    {
        await RunAsync(Programs.Demo, "--data", Tarrow);
        (_collector, Address, Page) = await ServeAsync(Data);
        await RunAsync(Programs.Collector, "claim", "--csv", Path.Combine(Tarrow, "claims.csv"), "--data", Data);
        await RunAsync(Programs.Collector, "claim", "T-15", "--maker", Hostile, "--product", Hostile, "--data", Data);
        string[] boards = [.. Directory.EnumerateDirectories(Tarrow).Order(StringComparer.Ordinal)];
        LateBoard = boards[^1];
        foreach (string board in boards.SkipLast(1))
        {
            await DeliverAsync(board);
        }
    }

    /// <summary>Lets a board of the data set deliver its journal.</summary>
    internal Task DeliverAsync(string board) =>
        RunAsync(Programs.Agent, "work", "--collector", Address, "--board", Path.GetFileName(board), "--data", board, "--until-idle");

    /// <summary>The report of what was delivered at the start, written once.</summary>
    internal async Task<string> ReportAsync()
    {
        if (_report is null)
        {
            string file = Path.Combine(Root, "report.html");
            await RunAsync(Programs.Collector, "report", "--format", "html", "--output", file, "--data", Data);
            _report = file;
        }

        return _report;
    }

    /// <summary>Makes a collector's folder with all that has been delivered.</summary>
    internal async Task<string> CopyAsync(string name)
    {
        string copies = Directory.CreateDirectory(Path.Combine(Root, name + "-copies")).FullName, data = Path.Combine(Root, name);
        await RunAsync(Programs.Collector, "backup", copies, "--data", Data);
        await RunAsync(Programs.Collector, "restore", Assert.Single(Directory.GetDirectories(copies)), "--into", data);
        return data;
    }

    /// <summary>Starts a second collector on a folder of its own.</summary>
    internal static async Task<(Process Process, string Address, string Page)> ServeAsync(string data)
    {
        Process process = Start(Programs.Collector, "serve", "--data", data, "--listen", "off", "--plain-text", "127.0.0.1:0", "--page", "127.0.0.1:0", "--quiet");
        string address = "", page = "";
        while (await process.StandardOutput.ReadLineAsync() is { } line && line != "ready")
        {
            address = line.StartsWith("plain text on this machine at ", StringComparison.Ordinal) ? line.Split(' ')[^1] : address;
            page = line.StartsWith("page at ", StringComparison.Ordinal) ? line.Split(' ')[^1] : page;
        }

        Assert.True(page.Length > 0, process.HasExited ? await process.StandardError.ReadToEndAsync() : "no page address");
        return (process, address, page);
    }

    /// <summary>Runs a program to its end and expects it to succeed.</summary>
    internal static async Task<string> RunAsync(string program, params string[] arguments)
    {
        using Process process = Start(program, arguments);
        Task<string> errors = process.StandardError.ReadToEndAsync();
        string output = await process.StandardOutput.ReadToEndAsync();
        await process.WaitForExitAsync();
        Assert.True(process.ExitCode == 0, $"{Path.GetFileName(program)} {string.Join(' ', arguments)}: exit {process.ExitCode}\n{output}\n{await errors}");
        return output;
    }

    /// <inheritdoc/>
    public async Task DisposeAsync()
    {
        if (_collector is not null)
        {
            await StopAsync(_collector);
        }

        Directory.Delete(Root, recursive: true);
    }

    /// <summary>Ends a collector at once.</summary>
    internal static async Task StopAsync(Process process)
    {
        if (!process.HasExited)
        {
            process.Kill();
            await process.WaitForExitAsync();
        }
    }

    private string Tarrow => Path.Combine(Root, "tarrow");

    private string Data => Path.Combine(Root, "collector");

    private static Process Start(string program, params string[] arguments)
    {
        var start = new ProcessStartInfo(program) { RedirectStandardOutput = true, RedirectStandardError = true, UseShellExecute = false };
        foreach (string argument in arguments)
        {
            start.ArgumentList.Add(argument);
        }

        return Process.Start(start)!;
    }
}
