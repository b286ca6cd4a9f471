using System.Globalization;
using System.Security.Cryptography;
using System.Text;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Notices.Morning;

/// <summary>
/// Knows when a report is due and gives it to the outbox: once each morning, at once when that moment passed while nothing ran, and after a
/// change where the settings ask for it. Not thread-safe: called from the loop of the messages.
/// </summary>
internal sealed partial class MorningWatch(
    MorningSettings settings, TimeZoneInfo zone, NoticeOutbox outbox, MorningShelf shelf, IMorningReports reports,
    TimeProvider time, ILogger logger)
{
    /// <summary>A report of everything costs seconds; nobody reads faster than this.</summary>
    internal static readonly TimeSpan BetweenLooks = TimeSpan.FromMinutes(5);

    /// <summary>The last attempt at a morning, and where the store stood if there was nothing to report.</summary>
    private (DateOnly Due, DateTimeOffset At, IntakePosition Nothing)? _tried;

    private (IntakePosition Applied, DateTimeOffset At)? _compared;

    private NoticeState State => outbox.State;

    /// <summary>Makes what is due.</summary>
    /// <param name="applied">Where the store stands: without something new in it nothing changes.</param>
    /// <param name="cancellationToken">Ends the making.</param>
    internal async Task LookAsync(IntakePosition applied, CancellationToken cancellationToken)
    {
        DateTimeOffset now = time.GetUtcNow();
        if (DueDay(now) is { } due && string.CompareOrdinal(State.MorningFor, Text(due)) < 0)
        {
            await MorningAsync(due, applied, now, cancellationToken);
        }

        if (settings.OnChange && (_compared is not { } last || (last.Applied != applied && now - last.At >= BetweenLooks)))
        {
            _compared = (default, now); // a look that fails is no look
            await CompareAsync(now, cancellationToken);
            _compared = (applied, now);
        }

        foreach (string way in State.MorningProblems.Keys.Where(w => !outbox.Has(w)).ToArray())
        {
            State.MorningProblems.Remove(way); // the settings no longer name it
        }

        shelf.Keep(State.Pending.Where(p => p.Notice.Night is not null).Select(p => p.Notice.Key));
    }

    /// <summary>What of the last reports did not arrive, as sentences for `status`.</summary>
    internal IReadOnlyList<string> Troubles() => [.. State.MorningProblems.Select(p => $"Morning report: {p.Value}")];

    /// <summary>A message for each folder that did not take the report on a night; the same one at every call.</summary>
    internal IEnumerable<Notice> FolderNotices()
    {
        foreach (PendingNotice pending in State.Pending.Where(
            p => p.Notice.Night is not null && p.Channel.StartsWith(FolderChannel.Prefix, StringComparison.Ordinal)))
        {
            if (State.MorningProblems.TryGetValue(pending.Channel, out string? problem))
            {
                string folder = Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(pending.Channel)).AsSpan(0, 8));
                yield return new Notice(
                    NoticeKind.NeedsPerson, $"morningFolder-{pending.Notice.Night}-{folder}", "the report is not in its folder",
                    $"{problem} The collector goes on trying.", time.GetUtcNow());
            }
        }
    }

    /// <summary>The last day whose moment has come; null on the first day of all before it.</summary>
    private DateOnly? DueDay(DateTimeOffset now)
    {
        DateTime local = TimeZoneInfo.ConvertTime(now, zone).DateTime;
        DateOnly today = DateOnly.FromDateTime(local);
        return TimeOnly.FromDateTime(local) >= settings.At ? today : State.MorningFor.Length > 0 ? today.AddDays(-1) : null;
    }

    private async Task MorningAsync(DateOnly due, IntakePosition applied, DateTimeOffset now, CancellationToken cancellationToken)
    {
        if (_tried is { } before && before.Due == due && (before.Nothing == applied || now - before.At < BetweenLooks))
        {
            return;
        }

        _tried = (due, now, default);
        if (await reports.MakeAsync(DeadMan.NightBefore(due, zone), cancellationToken) is not { } report)
        {
            _tried = (due, now, applied); // a board may deliver late
            return;
        }

        // With the message in one writing: neither without the other after a power cut.
        string told = State.MorningFor;
        State.MorningFor = Text(due);
        try
        {
            Raise(report, $"morning-{report.Night}", now);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            State.MorningFor = told;
            throw;
        }
    }

    private async Task CompareAsync(DateTimeOffset now, CancellationToken cancellationToken)
    {
        MorningSigns signs = await reports.SignsAsync(cancellationToken);
        if (State.MorningSigns is { } known && signs.IsNewsAfter(known)
            && await reports.MakeAsync(DateOnly.ParseExact(signs.Night, "yyyy-MM-dd", CultureInfo.InvariantCulture),
                cancellationToken) is { } report)
        {
            byte[] content = SHA256.HashData(Encoding.UTF8.GetBytes(report.Html + report.Markdown + report.Table));
            Raise(report, $"morning-{report.Night}-{Convert.ToHexStringLower(content.AsSpan(0, 8))}", now);
        }
        else if (State.MorningSigns != signs)
        {
            State.MorningSigns = signs;
            outbox.Save();
        }
    }

    private void Raise(MorningReport report, string key, DateTimeOffset now)
    {
        bool isKnown = State.Raised.Contains(key);
        if (!isKnown)
        {
            shelf.Put(key, report); // first: a message whose report is missing tells nobody anything
        }

        State.MorningSigns = report.Signs ?? State.MorningSigns;
        if (isKnown)
        {
            outbox.Save();
            return;
        }

        string title = $"{report.Span}: {report.Line}";
        outbox.Add(new Notice(NoticeKind.Morning, key, title, report.FirstText, now) { Night = report.Night });
        LogMade(logger, report.Night);
    }

    private static string Text(DateOnly day) => day.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);

    [LoggerMessage(EventId = EventNumbers.MorningMade, Level = LogLevel.Information,
        Message = "The report on the night of {Night} is made and goes out")]
    private static partial void LogMade(ILogger logger, string night);
}
