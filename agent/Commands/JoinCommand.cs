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
            Description = "The line that `cardassay-collector invite` printed; \"-\" reads it from standard input, so that it stays out of the list of processes.",
        };
        var command = new Command("join", "Join a collector with its invitation. The board makes its own key; no image should carry one.\n\nExample: cardassay-agent join cardassay-1/bench.local:7420/...")
        {
            line,
        };
        command.SetAction(async (parsed, cancellationToken) =>
        {
            var folder = new AgentFolder(Path.GetFullPath(parsed.GetValue(CommandLine.Data)!));
            var tree = new SysfsTree(parsed.GetValue(CommandLine.Sysfs)!);
            Invitation invitation = Read(parsed.GetValue(line)!);
            CheckPlace(folder, invitation);
            (Membership member, long collectorUnixNs) = await Joining.JoinAsync(
                invitation, Boards.Serial(tree), cancellationToken);
            using (member)
            {
                member.Save(folder.Membership);
                Console.WriteLine($"This board joined the collector at {member.Collector} as {member.Board}.");
                foreach (JoinCheck check in JoinChecks.Run(tree, folder, collectorUnixNs, TimeProvider.System))
                {
                    Console.WriteLine($"{(check.Works ? "works    " : "does not ")}  {Text.Clean(check.Sentence)}");
                }

                Console.WriteLine(JoinChecks.StartsByItself(tree, folder)
                    ? "Next: the service cardassay-agent starts by itself now (journalctl -u cardassay-agent); schedule a card at the collector."
                    : "Next: `cardassay-agent work` serves the collector; `cardassay-agent measure` now delivers to it too.");
            }

            return 0;
        });
        return command;
    }

    private static Invitation Read(string line)
    {
        try
        {
            return Invitation.Parse(line == "-" ? Console.In.ReadLine() ?? "" : line);
        }
        catch (InvitationException e)
        {
            throw new CommandException(e.Message, 2);
        }
    }

    /// <summary>What could fail after the code was used is tried before.</summary>
    private static void CheckPlace(AgentFolder folder, Invitation invitation)
    {
        Directory.CreateDirectory(folder.Path);
        string trial = folder.Membership + ".try";
        PrivateFile.Write(trial, "");
        File.Delete(trial);
        Membership? before;
        try
        {
            before = Membership.Load(folder.Membership);
        }
        catch (DeliveryException)
        {
            return; // damaged or open to others: joining is the remedy
        }

        using (before)
        {
            if (before is not null && !CryptographicOperations.FixedTimeEquals(KeyPin.Of(before.Authority), invitation.Pin))
            {
                throw new CommandException(
                    $"This board is a member of the collector at {before.Collector} already, and a journal belongs to one collector: give this one a folder of its own with --data.", 2);
            }
        }
    }
}
