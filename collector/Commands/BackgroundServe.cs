using System.Diagnostics;
using Cardassay.Collector.Hosting;

namespace Cardassay.Collector.Commands;

/// <summary>
/// `serve --background`: starts the same `serve` as a process of its own that outlives the terminal, and comes back when it takes calls. A
/// service manager is the better keeper; this is for a collector on the bench without one.
/// </summary>
internal static class BackgroundServe
{
    private const string LogName = "collector.log";

    /// <summary>util-linux, essential in Debian: a session of its own, so that closing the terminal ends nothing.</summary>
    private const string OwnSession = "/usr/bin/setsid";

    /// <summary>The database may have to be made again from the intake log, as the unit allows for too.</summary>
    private static readonly TimeSpan ReadyWithin = TimeSpan.FromHours(1);
    private static readonly TimeSpan LookEvery = TimeSpan.FromMilliseconds(50);

    /// <summary>Starts it.</summary>
    /// <param name="folder">The data folder.</param>
    /// <param name="arguments">The command line of this process, without its program.</param>
    /// <param name="option">The option that asked for this, left out for the other process.</param>
    /// <param name="cancellationToken">Ends the waiting; the collector goes on.</param>
    /// <exception cref="CommandException">It did not start; with what it said.</exception>
    internal static async Task<int> RunAsync(
        string folder, IEnumerable<string> arguments, string option, CancellationToken cancellationToken)
    {
        if (OperatingSystem.IsWindows())
        {
            throw new CommandException("--background needs Linux; start `serve` in a window of its own.", 2);
        }

        if (!Directory.Exists(folder))
        {
            Directory.CreateDirectory(folder, UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.UserExecute);
        }

        string log = Path.Combine(folder, LogName);
        long before = File.Exists(log) ? new FileInfo(log).Length : 0;
        string[] command = [.. File.Exists(OwnSession) ? (string[])[OwnSession] : [], .. Program(), .. arguments.Where(a => a != option)];
        using Process started = Process.Start(new ProcessStartInfo(
            "/bin/sh", ["-c", "umask 077; log=$1; shift; exec \"$@\" < /dev/null >> \"$log\" 2>&1", "sh", log, .. command]))
            ?? throw new CommandException("The collector could not be started.");
        using var limit = CancellationTokenSource.CreateLinkedTokenSource(cancellationToken);
        limit.CancelAfter(ReadyWithin);
        while (true)
        {
            bool ended = started.HasExited;
            string[] said = Said(log, before);
            if (Array.IndexOf(said, "ready") is >= 0 and int ready)
            {
                foreach (string line in said.Take(ready + 1)
                    .Where(l => l.StartsWith("boards ", StringComparison.Ordinal) || l.StartsWith("page ", StringComparison.Ordinal)
                        || l.StartsWith("plain ", StringComparison.Ordinal)))
                {
                    Console.WriteLine(line);
                }

                Console.WriteLine($"data in {folder}; log in {log}");
                Console.WriteLine($"ready; stop it with: kill {started.Id}");
                return 0;
            }

            if (ended)
            {
                throw new CommandException(said.LastOrDefault(l => l.Length > 0) ?? "The collector ended at once and said nothing.",
                    started.ExitCode == 2 ? 2 : 1);
            }

            await Task.Delay(LookEvery, limit.Token);
        }
    }

    /// <summary>This program: a file of its own, or one that the runtime's host was given.</summary>
    private static IEnumerable<string> Program() => Path.GetFileName(Environment.ProcessPath!) == "dotnet"
        ? [Environment.ProcessPath!, Environment.GetCommandLineArgs()[0]]
        : [Environment.ProcessPath!];

    private static string[] Said(string log, long from)
    {
        if (!File.Exists(log))
        {
            return [];
        }

        using var file = new FileStream(log, FileMode.Open, FileAccess.Read, FileShare.ReadWrite);
        file.Position = Math.Min(from, file.Length);
        using var reader = new StreamReader(file);
        return reader.ReadToEnd().Split('\n');
    }
}
