using System.Globalization;
using Cardassay.Collector.Hosting;

namespace Cardassay.Collector.Notices;

/// <summary>
/// Messages until they are delivered. A failed attempt is repeated after 5 s, 20 s, 80 s and so on up to every half hour, each
/// a fifth shorter or longer at random, until the way's patience is over. Not thread-safe: its owner calls from one loop.
/// </summary>
internal sealed partial class NoticeOutbox(IReadOnlyList<INoticeChannel> channels, string statePath, Random random, ILogger logger)
{
    /// <summary>What is remembered.</summary>
    internal NoticeState State { get; } = NoticeState.Read(statePath);

    /// <summary>Takes a message in, unless one of its key was raised before.</summary>
    internal bool Add(Notice notice)
    {
        if (State.Raised.Contains(notice.Key))
        {
            return false;
        }

        State.Raised.Add(notice.Key);
        if (notice.Night is not null)
        {
            // A newer report on the night says everything an older one did; the older one must not come after it.
            State.Pending.RemoveAll(p => p.Notice.Night == notice.Night);
        }

        State.Pending.AddRange(channels.Where(c => c.Takes(notice.Kind)).Select(c => new PendingNotice(notice, c.Name)));
        Save();
        return true;
    }

    /// <summary>True for a way there is.</summary>
    internal bool Has(string way) => channels.Any(c => c.Name == way);

    /// <summary>Writes the state down; a disk that refuses is told in the log and tried again with the next change.</summary>
    internal void Save()
    {
        try
        {
            State.Write(statePath);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            LogNotKept(logger, e.Message);
        }
    }

    /// <summary>Makes every attempt that is due.</summary>
    internal async Task PumpAsync(DateTimeOffset now, CancellationToken cancellationToken)
    {
        foreach (PendingNotice pending in State.Pending.Where(p => p.NextUnixMs <= now.ToUnixTimeMilliseconds()).ToArray())
        {
            INoticeChannel? channel = channels.FirstOrDefault(c => c.Name == pending.Channel);
            if (channel is null)
            {
                State.Pending.Remove(pending); // the settings no longer name it
                continue;
            }

            SendOutcome outcome = await channel.SendAsync(pending.Notice, cancellationToken);
            string kind = Notice.NameOf(pending.Notice.Kind);
            if (pending.Notice.Night is { } night)
            {
                NoteReport(night, channel.Name, outcome);
            }

            if (outcome.Delivered)
            {
                State.Pending.Remove(pending);
            }
            else if (!outcome.TryAgain || now - pending.Notice.At > channel.Patience)
            {
                State.Pending.Remove(pending);
                LogGivenUp(logger, kind, channel.Name, outcome.Problem);
            }
            else
            {
                pending.Attempts++;
                TimeSpan delay = Delay(pending.Attempts, random);
                pending.NextUnixMs = (now + delay).ToUnixTimeMilliseconds();
                LogLater(logger, kind, channel.Name, outcome.Problem, delay.TotalSeconds.ToString("0", CultureInfo.InvariantCulture));
            }

            Save();
        }
    }

    private void NoteReport(string night, string way, SendOutcome outcome)
    {
        if (outcome.Delivered)
        {
            State.Arrived(night, way);
        }
        else
        {
            State.MorningProblems[way] = outcome.Problem;
        }
    }

    /// <summary>Wait after the n-th failed attempt (from 1).</summary>
    internal static TimeSpan Delay(int attempts, Random random) =>
        TimeSpan.FromSeconds(Math.Min(1_800, 5 * Math.Pow(4, Math.Min(attempts - 1, 10))) * (0.8 + (0.4 * random.NextDouble())));

    [LoggerMessage(EventId = EventNumbers.NoticeLater, Level = LogLevel.Warning,
        Message = "A message ({Kind}) was not sent by {Channel}: {Problem} The next try is in {Seconds} s")]
    private static partial void LogLater(ILogger logger, string kind, string channel, string problem, string seconds);

    [LoggerMessage(EventId = EventNumbers.NoticeGivenUp, Level = LogLevel.Error,
        Message = "A message ({Kind}) was given up on {Channel}: {Problem} Look at notices.json, then try `notify --test`")]
    private static partial void LogGivenUp(ILogger logger, string kind, string channel, string problem);

    [LoggerMessage(EventId = EventNumbers.NoticesNotKept, Level = LogLevel.Error,
        Message = "What messages were sent cannot be written down: {Problem}")]
    private static partial void LogNotKept(ILogger logger, string problem);
}
