using System.CommandLine;
using System.Globalization;
using Cardassay.Agent.Delivery;
using Cardassay.Agent.Sysfs;
using Cardassay.Journal;
using Cardassay.Service;

namespace Cardassay.Agent.Commands;

/// <summary>`work`: the service. Delivers, says that it is there, and does what the collector's schedule says.</summary>
internal static class WorkCommand
{
    /// <summary>With --until-idle: a collector that says nothing new for this long is not waited for (a choice).</summary>
    private static readonly TimeSpan ReceiptsWithin = TimeSpan.FromSeconds(60);

    internal static Command Create()
    {
        Option<string?> collector = MeasureCommand.CollectorOption();
        var once = new Option<bool>("--until-idle")
        {
            Description = "End when nothing is scheduled and the collector has said that it has every record.",
        };
        var led = new Option<string?>("--led")
        {
            Description = "An LED of the board, by its name below /sys/class/leds, that says how the cards of a standing order are: "
                + "on, one may be taken out; blinking, one waits for a person; off, leave them in.",
            HelpName = "NAME",
        };
        var command = new Command("work", "Serve the collector this board joined: run what it schedules and deliver every result, "
            + "until stopped.\n\nExample: cardassay-agent work")
        {
            collector, MeasureCommand.PlainText, MeasureCommand.BoardName, once, led,
        };
        command.SetAction((parsed, cancellationToken) => RunAsync(
            parsed, parsed.GetValue(collector), parsed.GetValue(led), parsed.GetValue(once), cancellationToken));
        return command;
    }

    private static async Task<int> RunAsync(
        ParseResult parsed, string? collector, string? led, bool untilIdle, CancellationToken cancellationToken)
    {
        var folder = new AgentFolder(Path.GetFullPath(parsed.GetValue(CommandLine.Data)!));
        var tree = new SysfsTree(parsed.GetValue(CommandLine.Sysfs)!);
        using CollectorLink link = Boards.Link(
                folder, tree, collector, parsed.GetValue(MeasureCommand.PlainText), parsed.GetValue(MeasureCommand.BoardName))
            ?? throw new CommandException(
                "This board has joined no collector: run `cardassay-agent join LINE` with the line that `cardassay-collector invite` "
                    + "prints, or name a collector on this machine with --collector http://127.0.0.1:7422.", 2);
        BoardCard board = Boards.Describe(tree, link.Board ?? parsed.GetValue(MeasureCommand.BoardName));
        var heartbeat = new Heartbeat();
        var display = new RunDisplay(Console.Error, isTerminal: false, heartbeat, ServiceLine.FromEnvironment());
        var signs = new CardSigns(led is null ? null : BoardLed.Take(parsed.GetValue(CommandLine.Sysfs)!, led), display.Line);
        using ObservationJournal journal = ObservationJournal.Open(folder.Journal, TimeProvider.System, board.BootId);
        foreach (LostRange lost in journal.Log.Recovery.LostRanges)
        {
            display.Line(AgentEvent.RecordsLost, $"Journal records {lost.First} to {lost.Last} are lost: {lost.Reason}");
        }

        var finished = new FinishedDuties(folder);
        CloseInterrupted(folder, journal, finished, display);
        var deliveryHeartbeat = new Heartbeat();
        ServiceManager manager = ServiceManager.FromEnvironment();
        var client = new DeliveryClient(journal, link, board, TimeProvider.System, display.Line, deliveryHeartbeat);
        int exitCode = 0;
        using var stop = CancellationTokenSource.CreateLinkedTokenSource(cancellationToken);
        Task delivering = client.RunAsync(stop.Token);
        Task watching = Watchdog.RunAsync(manager, Watchdog.Of(heartbeat, deliveryHeartbeat), TimeProvider.System, stop.Token);
        try
        {
            display.Line(AgentEvent.Begun, $"board {board.Name} works for {link.Address}");
            manager.Ready($"board {board.Name} works for {link.Address}");
            Task<bool> working = WorkAsync(Worker(), client, untilIdle, stop.Token);
            if (await Task.WhenAny(working, delivering) == delivering && delivering.IsFaulted)
            {
                // The journal's disk failed under the delivery: the process ends, so that nothing is measured that cannot be kept.
                await stop.CancelAsync();
                await ((Task)working).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
                await delivering;
            }

            if (!await working)
            {
                exitCode = 1;
                display.Line(AgentEvent.CollectorAway, string.Create(CultureInfo.InvariantCulture,
                    $"The collector at {link.Address} did not say within {ReceiptsWithin.TotalSeconds:0} s that it has everything; "
                        + $"the records stay in the journal, and the next `work` goes on."));
            }
        }
        catch (OperationCanceledException) when (cancellationToken.IsCancellationRequested)
        {
            display.Line(AgentEvent.Stopped, "Stopped; everything recorded is kept.");
        }

        signs.End();
        manager.Stopping();
        await stop.CancelAsync();
        await delivering;
        await watching;
        return exitCode;

        DutyWorker Worker() => new(
            link, journal, board, new SlotWatch(tree, display.Line), new DutyPreflight(tree, folder, journal, TimeProvider.System),
            finished, display, signs, TimeProvider.System, heartbeat)
        {
            Pairs = () => SlotPairs.Read(folder, tree),
        };
    }

    /// <summary>Runs that a power cut or a crash ended are closed before anything new is recorded.</summary>
    private static void CloseInterrupted(AgentFolder folder, ObservationJournal journal, FinishedDuties finished, RunDisplay display)
    {
        if (OpenRunMark.CloseInterrupted(folder, journal) is { Count: > 0 } cut)
        {
            finished.AddInterrupted(cut);
            OpenRunMark.Forget(folder);
            display.Line(AgentEvent.RunCutOff, cut.Count == 1
                ? "The run before was cut off; it is kept as interrupted."
                : "The two runs before were cut off; they are kept as interrupted.");
        }
    }

    /// <summary>
    /// Works until cancelled; or until nothing is left to do and the collector itself said that it has every record, and knows so of this
    /// board. False when it did not say so in time.
    /// </summary>
    private static async Task<bool> WorkAsync(DutyWorker worker, DeliveryClient client, bool untilIdle, CancellationToken cancellationToken)
    {
        do
        {
            await worker.RunAsync(untilIdle, cancellationToken);
            if (!await client.DrainedAsync(ReceiptsWithin, cancellationToken))
            {
                return false;
            }
        }
        while (!await worker.IsIdleAsync(cancellationToken)); // it may want more of what it just got, and hears that nothing is left here
        return true;
    }
}
