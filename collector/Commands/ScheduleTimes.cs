using System.Globalization;
using Cardassay.Collector.Hosting;
using Cardassay.Trials;

namespace Cardassay.Collector.Commands;

/// <summary>Times of a night as a person says and reads them, in the time zone of the machine the command runs on.</summary>
internal sealed class ScheduleTimes(DateTimeOffset now, TimeZoneInfo zone)
{
    private static readonly string[] WithDay = ["yyyy-MM-dd HH:mm", "yyyy-MM-dd'T'HH:mm"];

    /// <summary>A time of day is the next one after <paramref name="after"/> (now when null); with a day it is that very moment.</summary>
    /// <exception cref="CommandException">The text is neither; names the option.</exception>
    internal DateTimeOffset Parse(string text, string option, DateTimeOffset? after = null)
    {
        if (DateTime.TryParseExact(text, WithDay, CultureInfo.InvariantCulture, DateTimeStyles.None, out DateTime moment))
        {
            return Local(moment);
        }

        if (!TimeOnly.TryParseExact(text, "HH:mm", CultureInfo.InvariantCulture, DateTimeStyles.None, out TimeOnly time))
        {
            throw new CommandException($"{option} \"{text}\": give a time as 22:30, or with its day as 2031-03-14 22:30.", 2);
        }

        DateTimeOffset from = TimeZoneInfo.ConvertTime(after ?? now, zone);
        DateTimeOffset today = Local(from.Date + time.ToTimeSpan());
        return today > from ? today : Local(from.Date.AddDays(1) + time.ToTimeSpan());
    }

    /// <summary>
    /// "22:30" when it is within a day, else "14 Mar 22:30"; to be read in <see cref="Zone"/>, which is said once beside it. A time after
    /// the clocks were changed bears its own: "03:30 UTC+02:00".
    /// </summary>
    internal string Text(long unixNs)
    {
        DateTimeOffset moment = In(unixNs);
        return Short(moment) + (moment.Offset == zone.GetUtcOffset(now) ? "" : " " + Name(moment.Offset));
    }

    /// <summary>"22:30 UTC+01:00", "tomorrow 06:30 UTC+01:00", "16 Mar 22:30 UTC+01:00": for a time that stands alone.</summary>
    internal string Whole(long unixNs)
    {
        DateTimeOffset moment = In(unixNs);
        int days = (moment.Date - TimeZoneInfo.ConvertTime(now, zone).Date).Days;
        string day = days switch
        {
            0 => "",
            1 => "tomorrow ",
            _ => moment.ToString("d MMM ", CultureInfo.InvariantCulture),
        };
        return day + moment.ToString("HH:mm ", CultureInfo.InvariantCulture) + Name(moment.Offset);
    }

    /// <summary>"2031-03-14 22:30:05 UTC+01:00": for a moment that may be long ago.</summary>
    internal string Stamp(long unixNs)
    {
        DateTimeOffset moment = In(unixNs);
        return moment.ToString("yyyy-MM-dd HH:mm:ss ", CultureInfo.InvariantCulture) + Name(moment.Offset);
    }

    /// <summary>The zone now: "UTC", "UTC+02:00".</summary>
    internal string Zone => Name(zone.GetUtcOffset(now));

    private DateTimeOffset In(long unixNs) => TimeZoneInfo.ConvertTime(UnixTime.At(unixNs), zone);

    private string Short(DateTimeOffset moment) =>
        moment.ToString((moment - now).Duration() < TimeSpan.FromHours(20) ? "HH:mm" : "d MMM HH:mm", CultureInfo.InvariantCulture);

    private static string Name(TimeSpan offset) => offset == TimeSpan.Zero
        ? "UTC"
        : string.Create(CultureInfo.InvariantCulture, $"UTC{(offset < TimeSpan.Zero ? "-" : "+")}{offset:hh\\:mm}");

    // An hour that the clocks skip is taken as if they had not been put forward yet.
    private DateTimeOffset Local(DateTime wall) => new(wall, zone.IsInvalidTime(wall) ? zone.BaseUtcOffset : zone.GetUtcOffset(wall));
}
