namespace Cardassay.Trials;

/// <summary>A night lasts from noon to noon UTC and is named by the day it begins: boards and collector mean the same by one.</summary>
public static class Night
{
    /// <summary>Night of a moment.</summary>
    public static DateOnly Of(DateTimeOffset moment) => DateOnly.FromDateTime(moment.UtcDateTime.AddHours(-12));

    /// <summary>When a night begins.</summary>
    public static DateTimeOffset BeginOf(DateOnly night) => new(night.ToDateTime(new TimeOnly(12, 0)), TimeSpan.Zero);
}
