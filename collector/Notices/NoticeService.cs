using System.Globalization;
using System.Security.Cryptography;
using System.Text;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Notices.Morning;
using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Notices;

/// <summary>The loop of the messages: looks at runs, at what needs a person and at the clock, and sends what is due.</summary>
internal sealed partial class NoticeService(
    NoticeSettings settings,
    NoticeOutbox outbox,
    MorningWatch? morning,
    NoticeTroubles troubles,
    Projection projection,
    BoardRegistry boards,
    Func<MasterData, IReadOnlyList<string>> needsPerson,
    TimeProvider time,
    ILogger<NoticeService> logger) : BackgroundService
{
    private static readonly TimeSpan Tick = TimeSpan.FromSeconds(10);

    /// <summary>An analysis of everything costs seconds; nobody reads mail faster than this.</summary>
    private static readonly TimeSpan BetweenAnalyses = TimeSpan.FromMinutes(5);

    private readonly Dictionary<string, double> _progress = new(StringComparer.Ordinal);
    private DateTimeOffset _analysed = DateTimeOffset.MinValue;
    private IntakePosition _analysedAt;

    /// <inheritdoc/>
    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        RunWatch? runs = null;
        while (!stoppingToken.IsCancellationRequested)
        {
            // One that fails keeps none of the others from going on.
            await TryAsync(async () =>
            {
                // A store that is away is waited for, messages or not.
                runs ??= await projection.ReadCaughtUpAsync(
                    store =>
                    {
                        // Both before the next batch, so that none falls in between; one told twice does no harm.
                        var watch = new RunWatch(projection.Load(store), outbox.State.OpenRuns, time);
                        projection.Applied += batch => watch.Take(batch.Records);
                        return watch;
                    },
                    stoppingToken);
                Look(runs);
            });
            await TryAsync(() => MorningAsync(stoppingToken));
            await TryAsync(() => outbox.PumpAsync(time.GetUtcNow(), stoppingToken));
            troubles.Lines = morning?.Troubles() ?? [];
            await TryAsync(LookForReportAsync); // after the sending: what arrived just now is there
            await Task.Delay(Tick, time, stoppingToken);
        }
    }

    private async Task TryAsync(Func<Task> step)
    {
        try
        {
            await step();
        }
        catch (Exception e) when (e is StoreException or InvalidOperationException or ArgumentException or IOException
            or UnauthorizedAccessException)
        {
            LogFailed(logger, e.Message);
        }
    }

    private async Task MorningAsync(CancellationToken cancellationToken)
    {
        if (morning is null)
        {
            return;
        }

        await morning.LookAsync(projection.Position, cancellationToken);
        foreach (Notice notice in morning.FolderNotices().ToArray())
        {
            Raise(notice);
        }
    }

    private void Look(RunWatch runs)
    {
        foreach (BoardState board in boards.All())
        {
            double now = board.Progress ?? -1;
            if (now >= 0 && _progress.TryGetValue(board.Name, out double before) && now != before)
            {
                runs.Moved(board.Name);
            }

            _progress[board.Name] = now;
        }

        foreach (Notice notice in runs.Due(settings.Stalled))
        {
            Raise(notice);
        }

        if (!outbox.State.OpenRuns.SequenceEqual(runs.Open))
        {
            outbox.State.OpenRuns = [.. runs.Open];
            outbox.Save();
        }

        LookForPerson();
    }

    private void LookForPerson()
    {
        DateTimeOffset now = time.GetUtcNow();
        IntakePosition applied = projection.Position;
        if (!settings.About.Contains(NoticeKind.NeedsPerson) || applied == _analysedAt || now - _analysed < BetweenAnalyses)
        {
            return;
        }

        _analysed = now;
        _analysedAt = applied;
        IReadOnlyList<string> texts = needsPerson(projection.Read(store => projection.Load(store)));
        if (PersonNotice(texts, outbox.State.NeedsPerson, now) is { } notice)
        {
            Raise(notice);
        }

        outbox.State.NeedsPerson = [.. texts.Select(KeyOf).Distinct()];
        outbox.Save();
    }

    /// <summary>One message for everything that is new; null when nothing is.</summary>
    internal static Notice? PersonNotice(IReadOnlyList<string> texts, IReadOnlyCollection<string> known, DateTimeOffset now)
    {
        string[] fresh = [.. texts.Where(t => !known.Contains(KeyOf(t)))];
        return fresh.Length == 0 ? null : new Notice(
            NoticeKind.NeedsPerson,
            string.Create(CultureInfo.InvariantCulture, $"needsPerson-{KeyOf(string.Join('\n', fresh))}-{now.ToUnixTimeSeconds()}"),
            fresh.Length == 1 ? "one thing needs you" : string.Create(CultureInfo.InvariantCulture, $"{fresh.Length} things need you"),
            string.Join("\n", fresh),
            now);
    }

    /// <summary>
    /// The same matter with another count is the same matter; with another card or board, which stand
    /// before the colon, it is another.
    /// </summary>
    internal static string KeyOf(string text)
    {
        int subject = Math.Max(0, text.IndexOf(": ", StringComparison.Ordinal));
        string matter = text[..subject] + string.Concat(text[subject..].Where(c => !char.IsAsciiDigit(c)));
        return Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(matter)).AsSpan(0, 8));
    }

    private Task LookForReportAsync()
    {
        DateTimeOffset now = time.GetUtcNow();
        DateTimeOffset local = TimeZoneInfo.ConvertTime(now, settings.Zone ?? time.LocalTimeZone);
        string today = local.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
        if (settings.ReportBy is not { } by || TimeOnly.FromTimeSpan(local.TimeOfDay) < by || outbox.State.ReportLookedFor == today)
        {
            return Task.CompletedTask;
        }

        string? problem;
        try
        {
            MasterData data = projection.Read(store => projection.Load(store));
            problem = DeadMan.Problem(data, settings, outbox.State, now, time.LocalTimeZone);
            _ = needsPerson(data); // makes the whole report: one that cannot be made does not exist
        }
        catch (Exception e) when (e is StoreException or InvalidOperationException or ArgumentException)
        {
            problem = $"The report cannot be made: {e.Message}";
        }

        outbox.State.ReportLookedFor = today;
        if (problem is not null)
        {
            Raise(DeadMan.Message(problem, DeadMan.LastNight(now, settings.Zone ?? time.LocalTimeZone), now));
        }

        outbox.Save();
        return Task.CompletedTask;
    }

    private void Raise(Notice notice)
    {
        if (settings.About.Contains(notice.Kind))
        {
            outbox.Add(notice);
        }
    }

    [LoggerMessage(EventId = EventNumbers.NoticeLookFailed, Level = LogLevel.Error,
        Message = "Looking for something to tell failed: {Problem}")]
    private static partial void LogFailed(ILogger logger, string problem);
}
