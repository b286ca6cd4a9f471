using System.Text.Json;
using System.Text.Json.Serialization;
using Cardassay.Collector.Notices.Morning;
using Cardassay.Journal;

namespace Cardassay.Collector.Notices;

/// <summary>What must be remembered over a restart so that nothing is sent twice or forgotten. Kept in one small file.</summary>
internal sealed record NoticeState
{
    /// <summary>Name below the data folder.</summary>
    internal const string Name = "notices-state.json";

    private const int MostRaised = 2_000;
    private const int MostNights = 60;

    /// <summary>Keys of messages that were raised, oldest first; at most 2,000.</summary>
    public List<string> Raised { get; init; } = [];

    /// <summary>Messages not delivered yet.</summary>
    public List<PendingNotice> Pending { get; init; } = [];

    /// <summary>Runs that were open when last looked, hex.</summary>
    public List<string> OpenRuns { get; set; } = [];

    /// <summary>What needed a person when last looked, as keys.</summary>
    public List<string> NeedsPerson { get; set; } = [];

    /// <summary>Local day for which the report was last looked for, yyyy-MM-dd; "" for never.</summary>
    public string ReportLookedFor { get; set; } = "";

    /// <summary>Local day whose morning report was made last, yyyy-MM-dd; "" for none yet.</summary>
    public string MorningFor { get; set; } = "";

    /// <summary>What the reports are compared with to notice a change; null before the first look.</summary>
    public MorningSigns? MorningSigns { get; set; }

    /// <summary>Nights whose report arrived (yyyy-MM-dd), with the ways it arrived by; the newest 60.</summary>
    public SortedDictionary<string, List<string>> MorningDelivered { get; init; } = new(StringComparer.Ordinal);

    /// <summary>Ways that did not take the last report they were given, with the reason as a sentence.</summary>
    public SortedDictionary<string, string> MorningProblems { get; init; } = new(StringComparer.Ordinal);

    /// <summary>Notes that the report on a night arrived.</summary>
    internal void Arrived(string night, string way)
    {
        MorningProblems.Remove(way);
        List<string> ways = MorningDelivered.TryGetValue(night, out List<string>? known) ? known : MorningDelivered[night] = [];
        if (!ways.Contains(way))
        {
            ways.Add(way);
        }

        while (MorningDelivered.Count > MostNights)
        {
            MorningDelivered.Remove(MorningDelivered.Keys.First());
        }
    }

    /// <summary>Reads the state; a damaged or missing file is an empty one, since at worst a message is sent twice.</summary>
    internal static NoticeState Read(string path)
    {
        try
        {
            return JsonSerializer.Deserialize(File.ReadAllBytes(path), NoticeStateJson.Default.NoticeState) ?? new NoticeState();
        }
        catch (Exception e) when (e is IOException or JsonException or UnauthorizedAccessException)
        {
            return new NoticeState();
        }
    }

    /// <summary>Writes it whole or not at all.</summary>
    internal void Write(string path)
    {
        if (Raised.Count > MostRaised)
        {
            Raised.RemoveRange(0, Raised.Count - MostRaised);
        }

        KeptFile.Write(path, JsonSerializer.SerializeToUtf8Bytes(this, NoticeStateJson.Default.NoticeState));
    }
}

/// <summary>A message on its way through one channel.</summary>
internal sealed record PendingNotice(Notice Notice, string Channel)
{
    /// <summary>Attempts made.</summary>
    public int Attempts { get; set; }

    /// <summary>When to try next, ms since 1970.</summary>
    public long NextUnixMs { get; set; }
}

/// <summary>The state as JSON.</summary>
[JsonSourceGenerationOptions(WriteIndented = true)]
[JsonSerializable(typeof(NoticeState))]
internal sealed partial class NoticeStateJson : JsonSerializerContext;
