using System.CommandLine;
using System.Globalization;
using Cardassay.Agent.BlockIo;
using Cardassay.Agent.Conditions;
using Cardassay.Agent.Delivery;
using Cardassay.Agent.Sysfs;
using Cardassay.Agent.Trials;
using Cardassay.Journal;
using Cardassay.Judging;
using Cardassay.Trials;
using Cardassay.Wire;

namespace Cardassay.Agent.Commands;

/// <summary>`slots-together`: finds out whether two slots of this board may be measured at once.</summary>
internal static class SlotsTogetherCommand
{
    private const int MostRounds = 200;

    private static readonly Option<int> s_rounds = new("--rounds")
    {
        Description = "Rounds of trials; more tell finer differences.",
        HelpName = "NUMBER",
        DefaultValueFactory = _ => 12,
    };
    private static readonly Option<string[]> s_erase = new("--erase")
    {
        Description = "Consent to DESTROY everything on the card with exactly this identity; once for each of the two. "
            + "Without it only reads are tried.",
        HelpName = "IDENTITY",
    };
    private static readonly Option<bool> s_allowFixed = new("--allow-fixed-disk")
    {
        Description = "Allow a device that is neither an SD card in a slot nor removable.",
    };

    internal static Command Create()
    {
        var first = new Argument<string>("DEVICE") { Description = "The card's device in one slot." };
        var second = new Argument<string>("OTHER") { Description = "The card's device in the other slot." };
        var command = new Command(
            "slots-together",
            "Find out whether two slots of this board disturb each other: both cards at once against each alone. "
                + "Where they do not, the collector lets both be measured at once. Exit code 1 when they do, "
                + "or when it is not shown.\n\nExample: cardassay-agent slots-together /dev/mmcblk1 /dev/mmcblk2")
        {
            first, second, s_rounds, s_erase, s_allowFixed, CommandLine.Json,
        };
        command.SetAction((parsed, cancellationToken) => Task.Factory.StartNew(
            () => Run(parsed, parsed.GetValue(first)!, parsed.GetValue(second)!, cancellationToken),
            CancellationToken.None,
            TaskCreationOptions.LongRunning,
            TaskScheduler.Default));
        return command;
    }

    private static int Run(ParseResult parsed, string first, string second, CancellationToken cancellationToken)
    {
        var folder = new AgentFolder(Path.GetFullPath(parsed.GetValue(CommandLine.Data)!));
        var tree = new SysfsTree(parsed.GetValue(CommandLine.Sysfs)!);
        int rounds = parsed.GetValue(s_rounds) is var r and >= SlotsTogether.LeastRounds and <= MostRounds ? r
            : throw new CommandException(
                FormattableString.Invariant($"--rounds is not between {SlotsTogether.LeastRounds} and {MostRounds}."), 2);
        RunSite[] sites = Sites(parsed, first, second, tree, folder);
        bool writes = parsed.GetValue(s_erase) is { Length: > 0 };
        foreach (RunSite site in sites)
        {
            foreach (string line in site.Announcement(
                string.Create(CultureInfo.InvariantCulture, $"{rounds} rounds, {(writes ? "reads and writes" : "reads alone")}: about "
                    + $"{Text.Duration(SlotsTest.Estimate(rounds, writes))}"), writes))
            {
                Console.Error.WriteLine(Text.Clean(line));
            }

            if (writes)
            {
                site.CheckConsent(0);
            }
        }

        // Held as long as the test goes on: no run of the service begins meanwhile.
        using ObservationJournal journal = ObservationJournal.Open(folder.Journal, TimeProvider.System, Guid.NewGuid());
        V1.SlotPair pair = Measure(sites, rounds, writes, folder, tree, cancellationToken);
        SlotPairs.Keep(folder, pair);
        if (parsed.GetValue(CommandLine.Json))
        {
            Console.WriteLine(Google.Protobuf.JsonFormatter.Default.Format(pair));
        }
        else
        {
            Console.Write(SlotsPage.Render(SlotPairCodec.Comparisons(pair)));
        }

        return SlotsTogether.Judge(SlotPairCodec.Comparisons(pair), writes).Word == SlotsWord.DoNotDisturb ? 0 : 1;
    }

    /// <summary>The two cards, each with the consent that names it: one consent never counts for two.</summary>
    private static RunSite[] Sites(ParseResult parsed, string first, string second, SysfsTree tree, AgentFolder folder)
    {
        List<string> consents = [.. parsed.GetValue(s_erase) ?? []];
        if (consents.Count is not (0 or 2))
        {
            throw new CommandException("Give --erase for both cards, or for none: what is tried with one that is only read says "
                + "nothing of plans that write.", 2);
        }

        string?[] taken = [null, null];
        string[] paths = [first, second];
        for (int i = 0; i < 2 && consents.Count > 0; i++)
        {
            string? identity = RunSite.Find(new RunRequest { Target = paths[i] }, tree, folder).Card?.Identity.Text;
            taken[i] = consents.Find(c => c == identity) ?? consents[0];
            consents.Remove(taken[i]!);
        }

        RunSite[] sites = [.. paths.Select((path, i) => RunSite.Find(
            new RunRequest { Target = path, EraseIdentity = taken[i], AllowFixedDisk = parsed.GetValue(s_allowFixed) }, tree, folder))];
        foreach (RunSite site in sites.Where(
            s => s.Target.Kind != TargetKind.Device || s.Target.DiskName is null || s.Target.IsPartition
                || SlotPairs.PlaceOf(tree, s.Target.DiskName) is null))
        {
            throw new CommandException($"{site.Target.Path} is not the whole device of a card; give two devices such as /dev/mmcblk1.", 2);
        }

        return sites[0].Target.DiskName != sites[1].Target.DiskName
            ? sites
            : throw new CommandException($"{first} and {second} are one card; give the cards of two slots.", 2);
    }

    private static V1.SlotPair Measure(
        RunSite[] sites, int rounds, bool writes, AgentFolder folder, SysfsTree tree, CancellationToken cancellationToken)
    {
        using DeviceLock alone = sites[0].TakeAlone(cancellationToken);
        using DeviceLock otherAlone = sites[1].TakeAlone(cancellationToken);
        using IBlockTarget one = sites[0].Open(writes, 0);
        using IBlockTarget other = sites[1].Open(writes, 0);
        string disk = sites[0].Target.DiskName!;
        string otherDisk = sites[1].Target.DiskName!;
        var test = new SlotsTest((disk, one), (otherDisk, other), sites[0].Seed);
        if (writes)
        {
            foreach (RunSite site in sites)
            {
                ProofCheckpoint.For(folder, site).Forget(); // what a proof has written so far is about to be overwritten
            }
        }

        long[] counted = [0, 0];
        try
        {
            IReadOnlyList<SlotComparison> all = test.Run(
                rounds,
                round =>
                {
                    Count(sites, test, counted, folder);
                    if (sites.Select(s => s.WhatChanged()).FirstOrDefault(c => c is not null) is { } changed)
                    {
                        throw new CommandException($"{changed} Nothing of the test counts.");
                    }

                    Console.Error.WriteLine(string.Create(CultureInfo.InvariantCulture, $"round {round} of {rounds}"));
                },
                cancellationToken);
            return new V1.SlotPair
            {
                DiskName = disk,
                OtherDiskName = otherDisk,
                Place = SlotPairs.PlaceOf(tree, disk),
                OtherPlace = SlotPairs.PlaceOf(tree, otherDisk),
                KernelRelease = BoardFacts.Read(tree).KernelRelease.Value ?? "",
                AgentVersion = AgentVersion.Text,
                WallUnixNs = UnixTime.Ns(TimeProvider.System.GetUtcNow()),
                Comparisons = { SlotPairCodec.ToMessages(all, disk) },
            };
        }
        catch (TargetException e)
        {
            throw new CommandException(e.Message);
        }
        finally
        {
            Count(sites, test, counted, folder);
        }
    }

    /// <summary>Adds what was written since to the history of each card.</summary>
    private static void Count(RunSite[] sites, SlotsTest test, long[] counted, AgentFolder folder)
    {
        for (int i = 0; i < 2; i++)
        {
            long bytes = test.Written[i] - counted[i];
            if (bytes > 0 && sites[i].Card is { } card)
            {
                Directory.CreateDirectory(folder.Odometer);
                new WearOdometer(new RealLogDisk(folder.Odometer))
                    .Add(card.Identity.Text, null, bytes, night: Night.Of(TimeProvider.System.GetUtcNow()));
                counted[i] += bytes;
            }
        }
    }
}
