using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Intake;

/// <summary>How what came from other collectors is regarded, as the events tell it: what was taken back, and whose stickers are of one series with our own.</summary>
internal sealed class CollectorsRegarded
{
    private readonly Dictionary<string, V1.CollectorRegarded> _byName = new(StringComparer.Ordinal);

    /// <summary>Reads what was said to this collector.</summary>
    internal static CollectorsRegarded Of(IEnumerable<StoredEvent> events)
    {
        var regarded = new CollectorsRegarded();
        foreach (StoredEvent e in events.Where(e => e.FromOperator))
        {
            if (V1.OperatorEvent.Parser.ParseFrom(e.Payload) is { Origin: "", Regarded: { } said })
            {
                regarded._byName[said.Collector] = said;
            }
        }

        return regarded;
    }

    /// <summary>True when a person took everything of this origin back.</summary>
    internal bool IsTakenBack(string origin) => _byName.GetValueOrDefault(origin)?.TakenBack == true;

    /// <summary>True when its T-10 is our T-10.</summary>
    internal bool SharesStickers(string origin) => _byName.GetValueOrDefault(origin)?.SameStickers == true;

    /// <summary>The origin as it counts for cards and claims: "" for our own and for collectors whose stickers are ours.</summary>
    internal string StickersOf(string origin) => SharesStickers(origin) ? "" : origin;

    /// <summary>
    /// What to call each board: its plain name where no board of another collector that counts has the same, so that an export read into an
    /// empty collector reads the same; else the name it is kept under.
    /// </summary>
    /// <param name="keptNames">The boards.</param>
    internal Func<string, string> NamesOf(IEnumerable<string> keptNames)
    {
        HashSet<string> shared = [.. keptNames.Where(kept => !IsTakenBack(BoardOrigin.Split(kept).Origin)).Distinct(StringComparer.Ordinal)
            .GroupBy(kept => BoardOrigin.Split(kept).Board, StringComparer.Ordinal)
            .Where(group => group.Count() > 1)
            .Select(group => group.Key)];
        return kept => BoardOrigin.Split(kept).Board is var name && shared.Contains(name) ? kept : name;
    }

    /// <summary>Whose an event is; "" for our own.</summary>
    internal static string OriginOf(StoredEvent e) =>
        e.FromOperator ? V1.OperatorEvent.Parser.ParseFrom(e.Payload).Origin : V1.CollectorEvent.Parser.ParseFrom(e.Payload).Origin;
}
