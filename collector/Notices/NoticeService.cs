using System.Globalization;
using System.Security.Cryptography;
using System.Text;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Observability;
using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Notices;

/// <summary>The loop of the messages: looks at runs, at what needs a person and at the clock, and sends what is due.</summary>
internal sealed partial class NoticeService(
    NoticeSettings settings,
    NoticeOutbox outbox,
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
            try
            {
                // A store that is away is waited for, messages or not.
                runs ??= await projection.ReadCaughtUpAsync(
                    store =>
                    {
                        // Both before the next batch, so that none falls in between; one told twice does no harm.
                        var watch = new RunWatch(MasterDataLoader.Load(store), outbox.State.OpenRuns, time);
                        projection.Applied += batch => watch.Take(batch.Records);
                        return watch;
                    },
                    stoppingToken);
                Look(runs);
                await outbox.PumpAsync(time.GetUtcNow(), stoppingToken);
            }
            catch (Exception e) when (e is StoreException or InvalidOperationException or ArgumentException or IOException)
            {
                LogFailed(logger, e.Message);
            }

            await Task.Delay(Tick, time, stoppingToken);
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
        LookForReport();
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
        IReadOnlyList<string> texts = needsPerson(projection.Read(store => MasterDataLoader.Load(store)));
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

    /// <summary>The same matter with another count is the same matter.</summary>
    internal static string KeyOf(string text) =>
        Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(string.Concat(text.Where(c => !char.IsAsciiDigit(c))))).AsSpan(0, 8));

    private void LookForReport()
    {
        DateTimeOffset now = time.GetUtcNow();
        DateTimeOffset local = TimeZoneInfo.ConvertTime(now, settings.Zone ?? time.LocalTimeZone);
        string today = local.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
        if (settings.ReportBy is not { } by || TimeOnly.FromTimeSpan(local.TimeOfDay) < by || outbox.State.ReportLookedFor == today)
        {
            return;
        }

        string? problem;
        try
        {
            MasterData data = projection.Read(store => MasterDataLoader.Load(store));
            problem = DeadMan.Problem(data, now);
            _ = needsPerson(data); // makes the whole report: one that cannot be made does not exist
        }
        catch (Exception e) when (e is StoreException or InvalidOperationException or ArgumentException)
        {
            problem = $"The report cannot be made: {e.Message}";
        }

        outbox.State.ReportLookedFor = today;
        if (problem is not null)
        {
            Raise(DeadMan.Message(problem, now));
        }

        outbox.Save();
    }

    private void Raise(Notice notice)
    {
        if (settings.About.Contains(notice.Kind))
        {
            outbox.Add(notice);
        }
    }

    [LoggerMessage(EventId = EventNumbers.NoticeLookFailed, Level = LogLevel.Error, Message = "Looking for something to tell failed: {Problem}")]
    private static partial void LogFailed(ILogger logger, string problem);
}
