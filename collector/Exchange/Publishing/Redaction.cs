using System.Security.Cryptography;
using System.Text.Json;
using System.Text.RegularExpressions;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Storage;
using Google.Protobuf;

namespace Cardassay.Collector.Exchange.Publishing;

/// <summary>
/// Master data without what names people, machines and places: host names, board names (boards become board-1, board-2), paths,
/// mount options, boot ids, comments in plans, shops, schedules, and prices unless they are to be published. Registers with the
/// serial numbers of cards stay: they are the evidence.
/// </summary>
internal sealed partial class Redaction
{
    /// <summary>What stands where a target path stood.</summary>
    internal const string Withheld = "(withheld)";

    private readonly Dictionary<string, string> _boards = new(StringComparer.Ordinal);
    private readonly Dictionary<string, string> _sources = new(StringComparer.Ordinal);
    private readonly Dictionary<string, string> _collectors = new(StringComparer.Ordinal) { [""] = "" };
    private readonly Scrubber _scrubber = new();
    private readonly bool _prices;

    private readonly IEnumerable<V1.IntakeEntry> _source;

    private Redaction(IEnumerable<V1.IntakeEntry> source, bool prices)
    {
        _source = source;
        _prices = prices;
        var boards = new SortedSet<string>(StringComparer.Ordinal);
        var names = new HashSet<(string Host, string Boot, string Path)>();
        foreach (V1.IntakeEntry entry in source)
        {
            (bool isReadable, V1.Observation? observation) = Observed(entry);
            if (!isReadable)
            {
                Unreadable++;
                continue;
            }

            AliasOf(entry.Delivered?.Origin ?? entry.OperatorEvent?.Origin ?? entry.CollectorEvent?.Origin ?? "");
            if (BoardOf(entry) is { Length: > 0 } board)
            {
                boards.Add(board);
            }

            if (observation?.RunOpened is { } opened)
            {
                names.Add((opened.HostName, opened.BootId, opened.TargetPath));
            }
        }

        foreach (string board in boards)
        {
            string alias = FormattableString.Invariant($"board-{_boards.Count + 1}");
            _boards[board] = alias;
            (string name, string origin) = BoardOrigin.Split(board);
            _scrubber.AddName(name, alias);
            _scrubber.AddName(origin, AliasOf(origin));
        }

        foreach ((string host, string boot, string path) in names)
        {
            _scrubber.AddName(host, "(host)");
            _scrubber.AddName(boot, "(boot)");
            _scrubber.AddPath(path);
        }

        _scrubber.Close();
    }

    /// <summary>Records that cannot be read and so cannot be cleaned; they are left out.</summary>
    internal int Unreadable { get; }

    /// <summary>The entries as they may be published, in the same order. They are cleaned while they are gone through, which may be done again and again.</summary>
    internal IEnumerable<PublishedEntry> Entries => _source
        .Select(entry => (Entry: entry, Observed: Observed(entry)))
        .Where(e => e.Observed.IsReadable)
        .Select(e => Clean(e.Entry, e.Observed.Observation))
        .OfType<PublishedEntry>();

    /// <summary>Cleans everything a store holds.</summary>
    /// <param name="entries">The entries, which can be gone through again and again.</param>
    /// <param name="prices">Whether prices may be published.</param>
    internal static Redaction Of(IEnumerable<V1.IntakeEntry> entries, bool prices) => new(entries, prices);

    private static (bool IsReadable, V1.Observation? Observation) Observed(V1.IntakeEntry entry)
    {
        try
        {
            return (true, entry.Delivered is { } delivered ? V1.Observation.Parser.ParseFrom(delivered.Record.Payload) : null);
        }
        catch (InvalidProtocolBufferException)
        {
            return (false, null);
        }
    }

    private static string? BoardOf(V1.IntakeEntry entry) =>
        entry.Delivered is { } delivered ? BoardOrigin.Join(delivered.Board, delivered.Origin)
        : entry.CollectorEvent?.Gap is { } gap ? BoardOrigin.Join(gap.Board, entry.CollectorEvent.Origin)
        : entry.CollectorEvent?.JournalDoubt is { } doubt ? BoardOrigin.Join(doubt.Board, entry.CollectorEvent.Origin)
        : null;

    private PublishedEntry? Clean(V1.IntakeEntry entry, V1.Observation? observation)
    {
        var clean = new V1.IntakeEntry { ReceivedUnixNs = entry.ReceivedUnixNs };
        switch (entry.ContentCase)
        {
            case V1.IntakeEntry.ContentOneofCase.Delivered:
                Clean(observation!);
                clean.Delivered = new V1.Delivered
                {
                    Board = Alias(entry),
                    Origin = AliasOf(entry.Delivered.Origin),
                    Conflicting = entry.Delivered.Conflicting,
                    ClockOffsetNs = entry.Delivered.ClockOffsetNs,
                    Record = new V1.Record
                    {
                        Epoch = entry.Delivered.Record.Epoch,
                        Sequence = entry.Delivered.Record.Sequence,
                        WallUnixNs = entry.Delivered.Record.WallUnixNs,
                        Payload = observation!.ToByteString(),
                    },
                };
                return new PublishedEntry(clean, Convert.ToHexStringLower(SHA256.HashData(entry.Delivered.Record.Payload.Span)));
            case V1.IntakeEntry.ContentOneofCase.OperatorEvent when entry.OperatorEvent.Claim is { } claim:
                clean.OperatorEvent = Said(entry, new V1.OperatorEvent { Claim = Clean(claim.Clone()) });
                return new PublishedEntry(clean, "");
            case V1.IntakeEntry.ContentOneofCase.OperatorEvent when entry.OperatorEvent.HandKept is { } kept:
                clean.OperatorEvent = Said(entry, new V1.OperatorEvent { HandKept = Clean(kept.Clone()) });
                return new PublishedEntry(clean, "");
            case V1.IntakeEntry.ContentOneofCase.OperatorEvent when entry.OperatorEvent.ImportWithdrawn is { } withdrawn:
                clean.OperatorEvent = Said(entry, new V1.OperatorEvent { ImportWithdrawn = withdrawn });
                return new PublishedEntry(clean, "");
            case V1.IntakeEntry.ContentOneofCase.OperatorEvent when entry.OperatorEvent.SameCard is { } same:
                clean.OperatorEvent = Said(entry, new V1.OperatorEvent { SameCard = new V1.SameCard { Tag = NameOf(same.Tag), Other = NameOf(same.Other), Apart = same.Apart } });
                return new PublishedEntry(clean, "");
            case V1.IntakeEntry.ContentOneofCase.OperatorEvent when entry.OperatorEvent is { Origin: "", Regarded: { } regarded }:
                clean.OperatorEvent = new V1.OperatorEvent
                {
                    Regarded = new V1.CollectorRegarded { Collector = AliasOf(regarded.Collector), TakenBack = regarded.TakenBack, SameStickers = regarded.SameStickers },
                };
                return new PublishedEntry(clean, "");
            case V1.IntakeEntry.ContentOneofCase.CollectorEvent when entry.CollectorEvent.Gap is { } gap:
                V1.GapNoticed cleanGap = gap.Clone();
                cleanGap.Board = Alias(entry);
                cleanGap.Reason = _scrubber.Clean(gap.Reason);
                clean.CollectorEvent = new V1.CollectorEvent { Gap = cleanGap, Origin = AliasOf(entry.CollectorEvent.Origin) };
                return new PublishedEntry(clean, "");
            case V1.IntakeEntry.ContentOneofCase.CollectorEvent when entry.CollectorEvent.JournalDoubt is { } doubt:
                V1.JournalDoubt cleanDoubt = doubt.Clone();
                cleanDoubt.Board = Alias(entry);
                cleanDoubt.Text = _scrubber.Clean(doubt.Text);
                clean.CollectorEvent = new V1.CollectorEvent { JournalDoubt = cleanDoubt, Origin = AliasOf(entry.CollectorEvent.Origin) };
                return new PublishedEntry(clean, "");
            case V1.IntakeEntry.ContentOneofCase.CollectorEvent when entry.CollectorEvent.IntakeLoss is { } loss:
                clean.CollectorEvent = new V1.CollectorEvent { IntakeLoss = Clean(loss.Clone()) };
                return new PublishedEntry(clean, "");
            case V1.IntakeEntry.ContentOneofCase.CollectorEvent when entry.CollectorEvent.Recovered is { } recovered:
                V1.StoreRecovered cleanRecovered = recovered.Clone();
                foreach (V1.IntakeLoss of in cleanRecovered.Losses)
                {
                    Clean(of);
                }

                clean.CollectorEvent = new V1.CollectorEvent { Recovered = cleanRecovered };
                return new PublishedEntry(clean, "");
            default:
                return null; // schedules, duties, names of boards: how the owner works, no evidence
        }
    }

    private string Alias(V1.IntakeEntry entry) => BoardOf(entry) is { Length: > 0 } board ? _boards[board] : "";

    /// <summary>What another collector is called: whose card a T-10 is must show, not what its collector is called.</summary>
    private string AliasOf(string collector)
    {
        if (!_collectors.TryGetValue(collector, out string? alias))
        {
            _collectors[collector] = alias = FormattableString.Invariant($"collector-{_collectors.Count}");
        }

        return alias;
    }

    /// <summary>A card's name as it is published: of another collector's card it holds the alias.</summary>
    internal string NameOf(string tag) => TagOrigin.OriginOf(tag) is { Length: > 0 } origin && _collectors.ContainsKey(origin) ? tag[..^origin.Length] + AliasOf(origin) : tag;

    private V1.OperatorEvent Said(V1.IntakeEntry entry, V1.OperatorEvent clean)
    {
        clean.Origin = AliasOf(entry.OperatorEvent.Origin);
        return clean;
    }

    /// <summary>How much was lost is evidence; in which file of whose disk is not.</summary>
    private static V1.IntakeLoss Clean(V1.IntakeLoss loss)
    {
        loss.Reason = "";
        return loss;
    }

    private V1.Claim Clean(V1.Claim claim)
    {
        claim.ClearBoughtAt();
        claim.Tag = NameOf(claim.Tag);
        if (!_prices)
        {
            claim.ClearPrice();
            claim.ClearCurrency();
        }

        return claim;
    }

    private V1.HandKept Clean(V1.HandKept kept)
    {
        if (!_sources.TryGetValue(kept.Source, out string? alias))
        {
            _sources[kept.Source] = alias = FormattableString.Invariant($"notes-{_sources.Count + 1}");
        }

        kept.Source = alias;
        kept.SourceSha256 = ByteString.Empty;
        foreach (V1.HandKeptFigure figure in kept.Figures)
        {
            figure.AsWritten = "";
            figure.Tag = NameOf(figure.Tag);
        }

        return kept;
    }

    private void Clean(V1.Observation observation)
    {
        switch (observation.KindCase)
        {
            case V1.Observation.KindOneofCase.RunOpened:
                Clean(observation.RunOpened);
                break;
            case V1.Observation.KindOneofCase.CardIdentified:
                foreach (V1.RegisterFile file in observation.CardIdentified.Files.Where(f => f.HasUnreadable))
                {
                    file.Unreadable = _scrubber.Clean(file.Unreadable);
                }

                break;
            case V1.Observation.KindOneofCase.TrialMeasured:
                V1.TrialMeasured trial = observation.TrialMeasured;
                CleanAll(trial.Reasons);
                Clean([trial.Before, .. trial.During, trial.After]);
                break;
            case V1.Observation.KindOneofCase.ConditionsSampled:
                Clean([observation.ConditionsSampled.Conditions]);
                break;
            case V1.Observation.KindOneofCase.RunClosed when observation.RunClosed.HasReason:
                observation.RunClosed.Reason = _scrubber.Clean(observation.RunClosed.Reason);
                break;
            case V1.Observation.KindOneofCase.RangeLost:
                observation.RangeLost.Reason = _scrubber.Clean(observation.RangeLost.Reason);
                break;
            case V1.Observation.KindOneofCase.ProofMeasured:
                CleanAll(observation.ProofMeasured.Remarks);
                Clean([observation.ProofMeasured.Before, observation.ProofMeasured.After]);
                break;
            default:
                break;
        }
    }

    private void Clean(V1.RunOpened opened)
    {
        if (opened.HasTag)
        {
            opened.Tag = NameOf(opened.Tag);
        }

        opened.HostName = "";
        opened.BootId = "";
        opened.TargetPath = Withheld;
        opened.ClearMountOptions();
        opened.PlanText = WithoutComments(opened.PlanText);
        opened.KernelRelease = LeadingNumbers().Match(opened.KernelRelease).Value;
    }

    private void Clean(IEnumerable<V1.Conditions?> conditions)
    {
        foreach (V1.Conditions c in conditions.OfType<V1.Conditions>())
        {
            foreach (string member in c.Unreadable.Keys.ToArray())
            {
                c.Unreadable[member] = _scrubber.Clean(c.Unreadable[member]);
            }
        }
    }

    private void CleanAll(IList<string> texts)
    {
        for (int i = 0; i < texts.Count; i++)
        {
            texts[i] = _scrubber.Clean(texts[i]);
        }
    }

    /// <summary>The plan as plain JSON: a comment may say anything. A plan that is no JSON is withheld.</summary>
    private static string WithoutComments(string plan)
    {
        try
        {
            using JsonDocument json = JsonDocument.Parse(plan, new JsonDocumentOptions { CommentHandling = JsonCommentHandling.Skip, AllowTrailingCommas = true });
            return JsonSerializer.Serialize(json.RootElement);
        }
        catch (JsonException)
        {
            return "";
        }
    }

    [GeneratedRegex(@"^[0-9]+(\.[0-9]+)*")]
    private static partial Regex LeadingNumbers();
}
