namespace Cardassay.Collector.Notices;

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
