using System.CommandLine;
using System.Diagnostics;
using Cardassay.Agent.Delivery;
using Cardassay.Service;

namespace Cardassay.Agent.Commands;

/// <summary>
/// Joins as the user of the installed service, whoever pasted the line: membership and journal are that user's, and a board that joined as
/// anybody else would never work.
/// </summary>
internal static class ServiceUser
{
    /// <summary>util-linux, essential in Debian; needs root.</summary>
    private const string ForRoot = "/usr/sbin/runuser";

    private const string ForOthers = "/usr/bin/sudo";

    /// <summary>True when the command, told nothing else, is the service's and this process is not its user.</summary>
    internal static bool Runs(ParseResult parsed) =>
        parsed.GetResult(CommandLine.Data) is null or { Implicit: true }
        && Environment.GetEnvironmentVariable("CARDASSAY_DATA") is not { Length: > 0 }
        && ServiceFolder.BelongsToAnother(AgentFolder.ServiceName);

    /// <summary>Runs `join -` as the service's user; the line goes through a pipe, so that it stays out of the list of processes.</summary>
    /// <exception cref="CommandException">It cannot be run.</exception>
    internal static async Task<int> JoinAsync(string line, bool again, CancellationToken cancellationToken)
    {
        string way = Environment.IsPrivilegedProcess ? ForRoot : ForOthers;
        if (!File.Exists(way))
        {
            throw new CommandException($"The service of this board joins, not {ServiceFolder.UserName()}: paste the line as root, "
                + "or name a folder of your own with --data.", 2);
        }

        await Console.Error.WriteLineAsync($"The service of this board joins, as its user {AgentFolder.ServiceName}.");
        var start = new ProcessStartInfo(way) { RedirectStandardInput = true, UseShellExecute = false };
        foreach (string argument in (string[])["-u", AgentFolder.ServiceName, "--", Environment.ProcessPath!, "join", "-",
            .. again ? (string[])["--again"] : []])
        {
            start.ArgumentList.Add(argument);
        }

        using Process joining = Process.Start(start)
            ?? throw new CommandException($"{way} could not be started; paste the line as root.", 2);
        await joining.StandardInput.WriteLineAsync(line);
        joining.StandardInput.Close();
        await joining.WaitForExitAsync(cancellationToken);
        return joining.ExitCode;
    }
}
