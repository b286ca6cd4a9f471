using System.CommandLine;
using System.Security.Cryptography;
using Cardassay.Agent.Delivery;
using Cardassay.Agent.Sysfs;
using Cardassay.Journal;
using Cardassay.Trust;

namespace Cardassay.Agent.Commands;

/// <summary>`join`: makes this board a member of a collector, and says what will work here and what will not.</summary>
internal static class JoinCommand
{
    internal static Command Create()
    {
        var line = new Argument<string>("LINE")
        {
            Description = "The line that `cardassay-collector invite` printed; \"-\" reads it from standard input, "
                + "so that it stays out of the list of processes.",
        };
        var again = new Option<bool>("--again")
        {
            Description = "This board is a member already: join anew, and close its old name at the collector.",
        };
        var command = new Command("join", "Join a collector with its invitation. The board makes its own key; "
            + "no image should carry one.\n\nExample: cardassay-agent join cardassay-1/bench.local:7420/...")
        {
            line, again,
        };
        command.SetAction(async (parsed, cancellationToken) =>
        {
            var folder = new AgentFolder(Path.GetFullPath(parsed.GetValue(CommandLine.Data)!));
            var tree = new SysfsTree(parsed.GetValue(CommandLine.Sysfs)!);
            string given = Line(parsed.GetValue(line)!);
            Invitation invitation = Read(given);
            if (ServiceUser.Runs(parsed))
            {
                return await ServiceUser.JoinAsync(given, parsed.GetValue(again), cancellationToken);
            }

            using Membership? before = Before(folder, invitation, parsed.GetValue(again));
            (Membership member, long collectorUnixNs) = await JoinAsync(folder, tree, invitation, cancellationToken);
            using (member)
            {
                member.Save(folder.Membership);
                Console.WriteLine($"This board joined the collector at {member.Collector} as {member.Board}.");
                if (before is not null && before.Board != member.Board)
                {
                    await TellOldNameAsync(before, member, cancellationToken);
                }

                foreach (JoinCheck check in JoinChecks.Run(tree, folder, collectorUnixNs, TimeProvider.System))
                {
                    Console.WriteLine($"{(check.Works ? "works    " : "does not ")}  {Text.Clean(check.Sentence)}");
                }

                Console.WriteLine(JoinChecks.StartsByItself(tree, folder)
                    ? "Next: the service cardassay-agent starts by itself now (journalctl -u cardassay-agent); "
                        + "schedule a card at the collector."
                    : "Next: `cardassay-agent work` serves the collector; `cardassay-agent measure` now delivers to it too.");
            }

            return 0;
        });
        return command;
    }

    /// <summary>The line as given; from standard input the first one that holds anything.</summary>
    private static string Line(string given)
    {
        if (given != "-")
        {
            return given;
        }

        string? line;
        do
        {
            line = Console.In.ReadLine();
        }
        while (line is not null && line.Trim().Length == 0);
        return line ?? "";
    }

    private static Invitation Read(string line)
    {
        try
        {
            return Invitation.Parse(line);
        }
        catch (InvitationException e)
        {
            throw new CommandException(e.Message, 2);
        }
    }

    /// <summary>
    /// Joins with a folder that is known to take the membership; one that was made for it goes again when nothing came of it.
    /// </summary>
    private static async Task<(Membership Member, long CollectorUnixNs)> JoinAsync(
        AgentFolder folder, SysfsTree tree, Invitation invitation, CancellationToken cancellationToken)
    {
        bool isNew = !Directory.Exists(folder.Path);
        try
        {
            // What could fail after the code was used is tried before.
            Directory.CreateDirectory(folder.Path);
            string trial = folder.Membership + ".try";
            PrivateFile.Write(trial, "");
            File.Delete(trial);
            return await Joining.JoinAsync(invitation, Boards.Serial(tree), cancellationToken);
        }
        catch when (isNew && Directory.Exists(folder.Path) && !Directory.EnumerateFileSystemEntries(folder.Path).Any())
        {
            Directory.Delete(folder.Path);
            throw;
        }
    }

    private static async Task TellOldNameAsync(Membership before, Membership member, CancellationToken cancellationToken)
    {
        try
        {
            await Joining.LeaveAsync(before, member, cancellationToken);
            Console.WriteLine($"Its old name {before.Board} is closed.");
        }
        catch (DeliveryException e)
        {
            await Console.Error.WriteLineAsync($"{e.Message} Close it at the collector: cardassay-collector boards revoke {before.Board}");
        }
    }

    /// <summary>What this board is a member of; null when it is of none.</summary>
    /// <exception cref="CommandException">It is, and that is not said to be meant.</exception>
    private static Membership? Before(AgentFolder folder, Invitation invitation, bool again)
    {
        Membership? before;
        try
        {
            before = Membership.Load(folder.Membership);
        }
        catch (DeliveryException) when (again)
        {
            return null; // damaged or open to others: joining is the remedy
        }

        if (before is null)
        {
            return null;
        }

        string? problem = !CryptographicOperations.FixedTimeEquals(KeyPin.Of(before.Authority), invitation.Pin)
            ? $"This board is a member of the collector at {before.Collector} already, and a journal belongs to one collector: "
                + "give this one a folder of its own with --data."
            : again ? null : $"This board is a member of the collector at {before.Collector} already, as {before.Board}: "
                + $"to join anew under this invitation say --again; another name than {before.Board} closes that one.";
        if (problem is null)
        {
            return before;
        }

        before.Dispose();
        throw new CommandException(problem, 2);
    }
}
