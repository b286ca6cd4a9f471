using System.Globalization;
using Cardassay.Collector.Storage;
using Cardassay.Identity;

namespace Cardassay.Collector.Intake;

/// <summary>What became of entries of the intake log that are gone, as the events tell it in their order.</summary>
internal sealed class Losses
{
    private const int RangesNamed = 12;
    private const string Contract = "delivery contract of this project";

    private readonly List<V1.IntakeLoss> _open = [];
    private readonly List<Finding> _asides = [];

    /// <summary>What came of the recoveries of each collector.</summary>
    private readonly Dictionary<string, long> _stillLost = new(StringComparer.Ordinal);
    private readonly List<V1.IntakeLoss> _closed = [];
    private long _extraRecords;
    private long _extraEvents;

    /// <summary>Entries that neither log nor database holds any more.</summary>
    internal long Lost => _stillLost.Values.Sum() + _open.Where(l => !l.InStore).Sum(Size);

    /// <summary>Entries that only the database still holds.</summary>
    internal long OnlyStored => _open.Where(l => l.InStore).Sum(Size);

    /// <summary>Losses that no recovery has looked for yet.</summary>
    internal IReadOnlyList<V1.IntakeLoss> Open => _open;

    /// <summary>Those of a store's events.</summary>
    internal static Losses Of(IEnumerable<StoredEvent> events)
    {
        var losses = new Losses();
        foreach (StoredEvent e in events.Where(e => !e.FromOperator))
        {
            losses.Add(V1.CollectorEvent.Parser.ParseFrom(e.Payload));
        }

        return losses;
    }

    /// <summary>Takes an event in; true when it was about a loss.</summary>
    internal bool Add(V1.CollectorEvent message)
    {
        switch (message.KindCase)
        {
            case V1.CollectorEvent.KindOneofCase.IntakeLoss:
                V1.IntakeLoss loss = message.IntakeLoss;
                if (!_open.Any(l => IsSame(l, loss)) && !_closed.Any(l => IsSame(l, loss))) // a power cut may have it written down twice
                {
                    _open.Add(loss.Clone());
                }

                return true;
            case V1.CollectorEvent.KindOneofCase.Recovered:
                V1.StoreRecovered recovered = message.Recovered;
                _open.RemoveAll(l => recovered.Losses.Any(r => IsSame(l, r)));
                _extraRecords += (long)(recovered.Records + recovered.Conflicts);
                _extraEvents += (long)recovered.Events;
                _closed.AddRange(recovered.Losses);
                _stillLost[$"{message.Origin}/{recovered.Collector}"] = (long)recovered.StillLost;
                return true;
            case V1.CollectorEvent.KindOneofCase.SetAside:
                foreach (V1.IntakeLoss l in _open)
                {
                    l.InStore = false; // what held them cannot be read any more
                }

                _asides.Add(Aside(message.SetAside));
                return true;
            default:
                return false;
        }
    }

    /// <summary>As findings, each of which needs a person until it is acknowledged.</summary>
    internal IEnumerable<Finding> Findings()
    {
        if (_open.Where(l => !l.InStore).ToList() is { Count: > 0 } lost)
        {
            yield return Gone(
                "intake-entries-lost",
                string.Create(CultureInfo.InvariantCulture, $"{Words(lost)} of the intake log {(lost.Sum(Size) == 1 ? "is" : "are")} lost: what they held, results of boards or what a person said, is in no figure. {Reasons(lost)}"),
                lost,
                "Look at the disk of the data folder; try `rebuild`, which takes what it finds out of the database; run the plans of that time again.");
        }

        if (_open.Where(l => l.InStore).ToList() is { Count: > 0 } stored)
        {
            yield return Gone(
                "intake-entries-only-stored",
                string.Create(CultureInfo.InvariantCulture, $"{Words(stored)} of the intake log cannot be read any more; what they held is still in the database, and nowhere else. {Reasons(stored)}"),
                stored,
                "Run `rebuild`, which writes them into the log again; look at the disk of the data folder.");
        }

        if (_stillLost.Count > 0)
        {
            long still = _stillLost.Values.Sum();
            yield return new Finding
            {
                Id = "intake-recovered",
                Severity = FindingSeverity.Doubt,
                Text = string.Create(CultureInfo.InvariantCulture, $"The intake log had lost entries, and {_extraRecords} records and {_extraEvents} events were taken out of the database and written into it again. {(still == 0 ? "Nothing is known to be missing." : $"{still} entries were in neither and are lost: what they held is in no figure.")}"),
                Values =
                [
                    new("records", _extraRecords.ToString(CultureInfo.InvariantCulture)), new("events", _extraEvents.ToString(CultureInfo.InvariantCulture)),
                    new("entries lost", still.ToString(CultureInfo.InvariantCulture)),
                ],
                Source = Contract,
                Settles = "Look at the disk of the data folder.",
            };
        }

        foreach (Finding aside in _asides)
        {
            yield return aside;
        }
    }

    private static bool IsSame(V1.IntakeLoss a, V1.IntakeLoss b) =>
        a.LogEpoch == b.LogEpoch && a.FirstSequence == b.FirstSequence && a.LastSequence == b.LastSequence;

    private static long Size(V1.IntakeLoss loss) => (long)(loss.LastSequence - loss.FirstSequence + 1);

    private static string Words(List<V1.IntakeLoss> losses) => losses.Sum(Size) is var n && n == 1
        ? "1 entry" : string.Create(CultureInfo.InvariantCulture, $"{n} entries");

    private static string Reasons(List<V1.IntakeLoss> losses) => string.Join(' ', losses.Select(l => l.Reason).Distinct(StringComparer.Ordinal).Take(3));

    private static Finding Gone(string id, string text, List<V1.IntakeLoss> losses, string settles) => new()
    {
        Id = id,
        Severity = FindingSeverity.Doubt,
        Text = text,
        Values =
        [
            .. losses.Take(RangesNamed).Select(l => new FindingValue(
                $"entries of the log {l.LogEpoch}", string.Create(CultureInfo.InvariantCulture, $"{l.FirstSequence} to {l.LastSequence}"))),
            .. losses.Count > RangesNamed ? new[] { new FindingValue("further ranges", string.Create(CultureInfo.InvariantCulture, $"{losses.Count - RangesNamed}")) } : [],
        ],
        Source = Contract,
        Settles = settles,
    };

    private static Finding Aside(V1.StoreSetAside aside) => new()
    {
        Id = "database-set-aside",
        Severity = FindingSeverity.Doubt,
        Text = $"The database could not be read and was made again from the intake log: {aside.Reason}{Unknown(aside.Beyond)}",
        Values =
        [
            new("kept as", aside.KeptAs),
            .. aside.Beyond is { LogEpoch.Length: > 0 } end
                ? new[] { new FindingValue("last entry known", string.Create(CultureInfo.InvariantCulture, $"{end.Sequence} of the log {end.LogEpoch}")) } : [],
        ],
        Source = Contract,
        Settles = "Look at the disk of the data folder. `rebuild` takes out of what was kept whatever the log lacks; then it may be deleted.",
    };

    private static string Unknown(V1.LogEnd? end) => end switch
    {
        null => "",
        { LogEpoch.Length: 0 } => " There was no log; how much of it is lost now nobody can say.",
        _ => string.Create(CultureInfo.InvariantCulture, $" The log ended at entry {end.Sequence}; whether the database held more than the log, which is lost now, nobody can say."),
    };
}
