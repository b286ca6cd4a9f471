namespace Cardassay.Collector.Notices;

/// <summary>One message.</summary>
/// <param name="Kind">What it is about.</param>
/// <param name="Key">The same for every attempt to send it: a receiver that knows the key has the message already.</param>
/// <param name="Title">One line.</param>
/// <param name="Text">Sentences; says what to do where something is to be done.</param>
/// <param name="At">When it was noticed.</param>
public sealed record Notice(NoticeKind Kind, string Key, string Title, string Text, DateTimeOffset At)
{
    /// <summary>Night that the report which goes with it is about, yyyy-MM-dd; null for a message without one.</summary>
    public string? Night { get; init; }

    /// <summary>Name of a kind in settings and messages: "finished", "stalled", "needsPerson", "noReport", "morning", "test".</summary>
    public static string NameOf(NoticeKind kind)
    {
        string name = kind.ToString();
        return char.ToLowerInvariant(name[0]) + name[1..];
    }
}

/// <summary>What a message is about.</summary>
public enum NoticeKind
{
    /// <summary>A message sent on request, to try the settings.</summary>
    Test = 0,

    /// <summary>A run ended.</summary>
    Finished = 1,

    /// <summary>A run is open and nothing came of it for too long.</summary>
    Stalled = 2,

    /// <summary>Something waits for a person.</summary>
    NeedsPerson = 3,

    /// <summary>There is no report on the last night by the time set.</summary>
    NoReport = 4,

    /// <summary>The report on a night, as the settings ask for it; not one of those that "about" names.</summary>
    Morning = 5,
}
