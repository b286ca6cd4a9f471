using System.CommandLine;
using System.Globalization;
using Cardassay.Agent.Delivery;
using Cardassay.Agent.Sysfs;

namespace Cardassay.Agent.Commands;

/// <summary>
/// What surrounds one run started by hand: the journal, the delivery to a collector meanwhile, and the wait for its receipts.
/// </summary>
internal sealed class RunSession
{
    private readonly Option<string?> _collector = MeasureCommand.CollectorOption();
    private readonly Option<double> _wait = new("--wait")
    {
        Description = "Seconds to wait for receipts after the run.",
        HelpName = "SECONDS",
        DefaultValueFactory = _ => 30,
    };

    /// <summary>Adds the options of a session to a command.</summary>
    internal void AddTo(Command command)
    {
        command.Add(_collector);
        command.Add(MeasureCommand.PlainText);
        command.Add(MeasureCommand.BoardName);
        command.Add(_wait);
    }

    /// <summary>Checks what can be checked before anything is touched.</summary>
    /// <exception cref="CommandException">The collector's address is none, or the membership cannot be used.</exception>
    internal void Check(ParseResult parsed, AgentFolder folder, SysfsTree tree) => Link(parsed, folder, tree)?.Dispose();

    /// <summary>Runs what needs the journal, on a thread of its own, then shows it and waits for receipts.</summary>
    internal async Task<T> RunAsync<T>(
        ParseResult parsed, AgentFolder folder, SysfsTree tree, Func<ObservationJournal, RunDisplay, T> run, Action<T, RunDisplay> show)
    {
        using CollectorLink? link = Link(parsed, folder, tree);
        TextWriter errors = Console.Error;
        BoardCard board = Boards.Describe(tree, link?.Board ?? parsed.GetValue(MeasureCommand.BoardName));
        using ObservationJournal journal = ObservationJournal.Open(folder.Journal, TimeProvider.System, board.BootId);
        if (OpenRunMark.CloseInterrupted(folder, journal) is { Count: > 0 } cut)
        {
            new FinishedDuties(folder).AddInterrupted(cut);
            OpenRunMark.Forget(folder);
            await errors.WriteLineAsync(cut.Count == 1
                ? "The run before was cut off; it is kept as interrupted."
                : "The two runs before were cut off; they are kept as interrupted.");
        }

        CheckRoom(journal, errors);
        // A line that is rewritten moves the cursor, which standard error lets nobody do; the display cleans its own text.
        bool isTerminal = !Console.IsErrorRedirected;
        var display = new RunDisplay(isTerminal ? new StreamWriter(Console.OpenStandardError()) { AutoFlush = true } : errors, isTerminal);
        using var stopDelivery = new CancellationTokenSource();
        DeliveryClient? client = link is null
            ? null
            : new DeliveryClient(journal, link, board, TimeProvider.System, display.Line);
        Task delivering = client?.RunAsync(stopDelivery.Token) ?? Task.CompletedTask;
        T result = await Task.Factory.StartNew(
            () => run(journal, display), CancellationToken.None, TaskCreationOptions.LongRunning, TaskScheduler.Default);
        show(result, display);
        if (client is not null)
        {
            bool all = await client.DrainedAsync(TimeSpan.FromSeconds(parsed.GetValue(_wait)), CancellationToken.None);
            string open = journal.Backlog > 0
                ? string.Create(CultureInfo.InvariantCulture, $"{journal.Backlog} records have no receipt yet")
                : "This collector has not said that it has everything";
            await errors.WriteLineAsync(all
                ? "All records have the collector's receipt."
                : $"{open}; they stay in {folder.Journal} and go with the next run with --collector, or with `work`.");
            await stopDelivery.CancelAsync();
            await delivering;
        }

        return result;
    }

    private CollectorLink? Link(ParseResult parsed, AgentFolder folder, SysfsTree tree) => Boards.Link(
        folder, tree, parsed.GetValue(_collector), parsed.GetValue(MeasureCommand.PlainText), parsed.GetValue(MeasureCommand.BoardName));

    private static void CheckRoom(ObservationJournal journal, TextWriter errors)
    {
        double fullness = journal.Log.Fullness;
        if (fullness >= ObservationJournal.StopFullness)
        {
            throw new CommandException(string.Create(CultureInfo.InvariantCulture,
                $"The journal is {fullness * 100:0} % full and nothing in it may be dropped: "
                    + $"let it be delivered (--collector) before a new run."));
        }

        if (fullness >= ObservationJournal.WarnFullness)
        {
            errors.WriteLine(
                string.Create(CultureInfo.InvariantCulture, $"The journal is {fullness * 100:0} % full; let it be delivered soon."));
        }
    }
}
