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
