using System.CommandLine;
using System.Globalization;
using Cardassay.Collector.Exchange;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Notices;
using Grpc.Core;

namespace Cardassay.Collector.Commands;

/// <summary>`notify`: tries the settings of the messages, or sends the dead man's message when there is no report.</summary>
internal static class NotifyCommand
{
    internal static Command Create()
    {
        var test = new Option<bool>("--test") { Description = "Send a test message through every way the settings name." };
        var check = new Option<bool>("--check")
        {
            Description = "Send a message when no collector is running or it has no report on the last night. For a timer: "
                + "it works when the collector is dead.",
        };
        var command = new Command(
            "notify",
            $"Messages by webhook and mail are off until the data folder holds {NoticeSettingsFile.Name}; see deploy/README.md.\n\n"
            + "Example: cardassay-collector notify --test --data ./cards")
        {
            test, check,
        };
        command.SetAction(async (parsed, cancellationToken) =>
        {
            string folder = Path.GetFullPath(
                await PlaceSearch.OfThisProcess().FindFolderAsync(CommandLine.NamedData(parsed), cancellationToken));
            NoticeSettings? settings = SettingsOf(folder);
            return (parsed.GetValue(test), parsed.GetValue(check)) switch
            {
                (true, false) => await TestAsync(Needed(settings, folder), folder, cancellationToken),
                (false, true) => await CheckAsync(Needed(settings, folder), folder, cancellationToken),
                (false, false) => Describe(settings, folder),
                _ => throw new CommandException("Give either --test or --check.", 2),
            };
        });
        return command;
    }

    /// <exception cref="CommandException">The settings cannot be used.</exception>
    internal static NoticeSettings? SettingsOf(string folder)
    {
        try
        {
            return NoticeSetup.Settings(folder);
        }
        catch (NoticeSettingsException e)
        {
            throw new CommandException(e.Message, 2);
        }
    }

    private static NoticeSettings Needed(NoticeSettings? settings, string folder) =>
        settings
            ?? throw new CommandException($"Messages are off: {folder} holds no {NoticeSettingsFile.Name}; deploy/README.md shows one.", 2);

    private static int Describe(NoticeSettings? settings, string folder)
    {
        if (settings is null)
        {
            Console.WriteLine($"Messages are off: {folder} holds no {NoticeSettingsFile.Name}.");
            return 0;
        }

        object[] ways = [.. new object?[] { settings.Webhook, settings.Mail }.OfType<object>()];
        Console.WriteLine(ways.Length == 0
            ? "No message is sent."
            : $"Messages about {string.Join(", ", settings.About.Select(Notice.NameOf))} go to {string.Join(" and ", ways)}.");
        if (settings.Morning is { } morning)
        {
            string[] to = [.. NoticeSetup.Channels(settings, NoticeSetup.Shelf(folder), TimeProvider.System)
                .Where(c => c.Takes(NoticeKind.Morning)).Select(c => c.Name)];
            Console.WriteLine(
                string.Create(CultureInfo.InvariantCulture, $"The report on the last night goes at "
                    + $"{morning.At:HH:mm}{(morning.OnChange ? " and after a change" : "")} to {string.Join(", ", to)}."));
        }

        return 0;
    }

    private static Task<int> TestAsync(NoticeSettings settings, string folder, CancellationToken cancellationToken) => SendAsync(
        settings,
        folder,
        new Notice(
            NoticeKind.Test, $"test-{Guid.NewGuid():N}", "a test", "This is a test of the settings. Nothing is the matter.",
            TimeProvider.System.GetUtcNow()),
        cancellationToken);

    private static async Task<int> CheckAsync(NoticeSettings settings, string folder, CancellationToken cancellationToken)
    {
        DateTimeOffset now = TimeProvider.System.GetUtcNow();
        string? problem = await ProblemAsync(settings, folder, now, cancellationToken);
        if (problem is null)
        {
            Console.WriteLine("There is a report on the last night.");
            return 0;
        }

        Notice notice = DeadMan.Message(problem, DeadMan.LastNight(now, settings.Zone ?? TimeZoneInfo.Local), now);
        Console.WriteLine(problem);
        if (NoticeState.Read(Path.Combine(folder, NoticeState.Name)) is { } state
            && state.Raised.Contains(notice.Key) && state.Pending.All(p => p.Notice.Key != notice.Key))
        {
            Console.WriteLine("The collector sent the message already.");
            return 1;
        }

        await SendAsync(settings, folder, notice, cancellationToken);
        return 1;
    }

    private static async Task<string?> ProblemAsync(
        NoticeSettings settings, string folder, DateTimeOffset now, CancellationToken cancellationToken)
    {
        OperatorSession? session = null;
        try
        {
            session = await OperatorSession.OpenRunningAsync(folder, cancellationToken);
            if (session is null)
            {
                return "No collector is running.";
            }

            (EntrySpool entries, _) = await EntryFeed.FetchAsync(session, cancellationToken);
            using EntrySpool held = entries;
            using AsyncServerStreamingCall<V1.ReportPart> report = session.Client.RenderReport(
                new V1.ReportRequest { Format = "terminal", Profile = "system-disk" }, cancellationToken: cancellationToken);
            await foreach (V1.ReportPart _ in report.ResponseStream.ReadAllAsync(cancellationToken))
            {
                // Only that it can be made matters.
            }

            using var store = new SpooledStore(held.Entries());
            return DeadMan.Problem(MasterDataLoader.Load(store), settings, NoticeState.Read(Path.Combine(folder, NoticeState.Name)), now,
                TimeZoneInfo.Local);
        }
        catch (Exception e) when (e is RpcException or CommandException)
        {
            return $"The collector did not answer: {(e as RpcException)?.Status.Detail ?? e.Message}";
        }
        finally
        {
            if (session is not null)
            {
                await session.DisposeAsync();
            }
        }
    }

    private static async Task<int> SendAsync(NoticeSettings settings, string folder, Notice notice, CancellationToken cancellationToken)
    {
        int failed = 0;
        foreach (INoticeChannel channel in NoticeSetup.Channels(settings, NoticeSetup.Shelf(folder), TimeProvider.System)
            .Where(c => c.Takes(notice.Kind)))
        {
            SendOutcome outcome = await channel.SendAsync(notice, cancellationToken);
            failed += outcome.Delivered ? 0 : 1;
            Console.WriteLine(outcome.Delivered ? $"{channel.Name}: delivered." : $"{channel.Name}: not delivered. {outcome.Problem}");
            (channel as IDisposable)?.Dispose();
        }

        return failed == 0 ? 0 : 1;
    }
}
