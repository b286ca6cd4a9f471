using Cardassay.Trials;

namespace Cardassay.Collector.Boards;

/// <summary>Whether an entry can be meant as it stands.</summary>
internal static class ScheduleCheck
{
    /// <summary>What is wrong, naming the option and the remedy; null when nothing is.</summary>
    internal static string? Problem(V1.ScheduleEntry entry, DateTimeOffset now)
    {
        long nowNs = UnixTime.Ns(now);
        if (entry.AnyCard)
        {
            return entry.HasTag || entry.HasEraseIdentity
                ? "--any-card: a standing order names no card and consents to nothing; leave out --tag and --erase."
                : entry.HasNotBeforeUnixNs || entry.HasStopByUnixNs || entry.UntilStop
                    ? "--any-card: a standing order holds until it is withdrawn; leave out --from, --stop-by and --until TIME."
                : entry.Target.Length > 0 && !entry.Target.StartsWith("/dev/", StringComparison.Ordinal) ? $"--any-card: {entry.Target} is "
                    + "a folder, and cards are put into slots: name one like /dev/mmcblk0, or none for every slot of the board."
                : null;
        }

        if (entry.Target.Length == 0 && !entry.HasTag)
        {
            return "Name a target, a device or a folder on the board, or the card with --tag.";
        }

        if (entry.HasStopByUnixNs && entry.StopByUnixNs <= nowNs && entry.Repeat > 0)
        {
            return "--stop-by: that time has passed; name a later one.";
        }

        if (entry.HasStopByUnixNs && entry.HasNotBeforeUnixNs && entry.StopByUnixNs <= entry.NotBeforeUnixNs)
        {
            return "--stop-by: it must be later than --from.";
        }

        if (entry.UntilStop && !entry.HasStopByUnixNs)
        {
            return "--until: name the time at which the repetitions end.";
        }

        return entry.UntilSettled && !entry.HasTag ? "--until settled: name the card with --tag, for it is the card that settles." : null;
    }
}
