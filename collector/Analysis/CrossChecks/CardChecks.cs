using Cardassay.Collector.Analysis.Cards;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Identity;
using Cardassay.Plans;
using Cardassay.Trials;
using static System.FormattableString;

namespace Cardassay.Collector.Analysis.CrossChecks;

/// <summary>Checks of one card that need no comparison with others and make no statistical test over all cards.</summary>
internal static class CardChecks
{
    private const string Practice = "common practice, no source";
    private const int LastLook = 30;

    public static IEnumerable<CardFinding> Of(CardFigures figures, CardResult card)
    {
        foreach (MetricSummary metric in card.Metrics)
        {
            foreach (CardFinding finding in Repetition(metric).Concat(AgainstBus(card.Claim, metric)))
            {
                yield return finding;
            }
        }

        foreach (CardFinding finding in ClaimsDiffer(card).Concat(Spoilt(card)).Concat(Nothing(figures)).Concat(Stalls(figures)))
        {
            yield return finding;
        }
    }

    private static IEnumerable<CardFinding> ClaimsDiffer(CardResult card)
    {
        foreach (CollectorClaim other in card.OtherClaims.Where(o => CollectorClaim.Contradict(card.Claim, o.Claim)))
        {
            CardFinding finding = Finding(
                CheckIds.ClaimsDiffer, FindingSeverity.Note,
                $"{(other.Collector.Length == 0 ? "This collector" : $"Collector {other.Collector}")} was told something else of this card: {Explaining.Explain.ClaimText(other.Claim)}. That does not count here; two stickers were taken for one card.",
                Practice, [], ("claim that counts", Explaining.Explain.ClaimText(card.Claim!)));
            yield return finding with { Finding = finding.Finding with { Settles = "Look whether the two stickers are on one card; `claim TAG --not-same-as TAG@COLLECTOR` parts them." } };
        }
    }

    private static IEnumerable<CardFinding> Repetition(MetricSummary metric)
    {
        if (metric.N >= LastLook && !metric.Settled && !metric.Key.IsAside)
        {
            yield return Finding(
                CheckIds.Unsettled, FindingSeverity.Note,
                Invariant($"{metric.Key.TrialText} is not settled after {metric.N} repetitions: +-{100 * metric.Interval!.Value.RelativeHalfWidth:0.0} %."),
                "stopping rule after Kalibera and Jones, ISMM 2013", [],
                ("wanted", Invariant($"+-{100 * metric.SettledLimit:0} %")));
        }
    }

    private static IEnumerable<CardFinding> AgainstBus(Claim? claim, MetricSummary metric)
    {
        double? stated = metric.Kind switch
        {
            TrialKind.SequentialRead => claim?.StatedReadMegabytesPerSecond,
            TrialKind.SequentialWrite => claim?.StatedWriteMegabytesPerSecond,
            _ => null,
        };
        double? ceiling = BusCeiling.MegabytesPerSecond(metric.Key.Context.BusMode);
        if (TrialKinds.CountsOperations(metric.Kind) || metric.IsRangeOnly)
        {
            yield break;
        }

        bool limited = metric.Low >= 0.85 * ceiling;
        if (limited && !(stated < ceiling))
        {
            yield return Finding(
                CheckIds.BusLimited, FindingSeverity.Note,
                Invariant($"{TrialKinds.WordsOf(metric.Kind)} reaches {TrialFigure.Text(metric.Median)} MB/s of the {ceiling} MB/s the bus mode {metric.Key.Context.BusMode} can carry: the board's slot limits it, not the card."),
                "SD Association, public page on bus speeds; 85 % of the ceiling: " + Practice, []);
        }

        // A stated speed is judged only where the bus leaves room for it.
        if (metric.High < stated && (ceiling is null || stated <= 0.85 * ceiling))
        {
            yield return Finding(
                CheckIds.SlowerThanStated, FindingSeverity.Note,
                Invariant($"{TrialKinds.WordsOf(metric.Kind)} is {TrialFigure.Text(metric.Median)} MB/s, {100 * (1 - metric.Median / stated.Value):0} % below the {stated} MB/s stated."),
                "stated speeds are best cases by custom: " + Practice, [],
                ("interval, MB/s", $"{TrialFigure.Text(metric.Low)} to {TrialFigure.Text(metric.High)}"));
        }
    }

    private static IEnumerable<CardFinding> Spoilt(CardResult card)
    {
        foreach (IGrouping<SetAsideRule, SetAsideValue> rule in card.Runs.SelectMany(r => r.SetAside).GroupBy(a => a.Rule).OrderBy(g => g.Key))
        {
            RecordKey[] records = [.. rule.Select(a => a.Value.Record)];
            string id = rule.Key switch
            {
                SetAsideRule.UnderVoltage or SetAsideRule.Throttled or SetAsideRule.LinkErrors or SetAsideRule.OtherTraffic or SetAsideRule.TooLittleTraffic => CheckIds.SpoiltConditions,
                SetAsideRule.AboveBusCeiling => CheckIds.AboveBusCeiling,
                SetAsideRule.Invalid => CheckIds.InvalidTrials,
                SetAsideRule.DuplicateRun => CheckIds.DuplicateRun,
                _ => "",
            };
            if (id.Length > 0)
            {
                yield return Finding(
                    id, FindingSeverity.Note,
                    Invariant($"{records.Length} trial{(records.Length == 1 ? " is" : "s are")} set aside. {SetAsideRules.SentenceOf(rule.Key)}"),
                    rule.Key == SetAsideRule.AboveBusCeiling ? "SD Association, public page on bus speeds" : Practice, records,
                    ("rule", SetAsideRules.IdOf(rule.Key)));
            }
        }
    }

    private static IEnumerable<CardFinding> Nothing(CardFigures figures)
    {
        foreach (var kind in figures.CompletedNothing.GroupBy(n => n.Kind).OrderBy(g => TrialKinds.PlaceOf(g.Key)))
        {
            int trials = kind.Count();
            CardFinding finding = Finding(
                CheckIds.CompletedNothing, FindingSeverity.Note,
                Invariant($"In {trials} trial{(trials == 1 ? "" : "s")} of {TrialKinds.WordsOf(kind.Key)} not one operation was completed (the longest took {kind.Max(n => n.ElapsedNs) / 1e9:0} s); {(trials == 1 ? "it counts" : "they count")} as 0, and as a stall."),
                "a figure of 0 is a figure: " + Practice, [.. kind.Select(n => n.Record)]);
            yield return finding with { Finding = finding.Finding with { Settles = "Run it again, on another board as well." } };
        }
    }

    // Busy limits of a high-capacity card: write 250 ms, read 100 ms (SD Physical Layer Simplified Specification 4.10, 4.6.2).
    private static IEnumerable<CardFinding> Stalls(CardFigures figures)
    {
        foreach (((TrialKind kind, bool reads, bool isCardAlone), (long latencyNs, RecordKey record)) in figures.LongestStalls
            .OrderBy(s => TrialKinds.PlaceOf(s.Key.Kind)).ThenBy(s => s.Key.IsRead).ThenByDescending(s => s.Key.IsCardAlone))
        {
            string what = TrialKinds.ReadsAndWrites(kind) ? reads ? "read" : "write" : "operation";
            int waits = TrialKinds.WaitsEach(kind);
            double limitMs = reads ? PlanKinds.ReadStallLimitMs : PlanKinds.WriteStallLimitMs;
            if (waits == 0 || latencyNs <= waits * limitMs * 1e6)
            {
                continue;
            }

            string took = Invariant($"One {what} of {TrialKinds.WordsOf(kind)} took {latencyNs / 1e6:0} ms");
            string each = waits == 1 ? "" : Invariant($" with each of the {waits} things it waits for");
            yield return isCardAlone
                ? Finding(
                    CheckIds.LongStall, FindingSeverity.Note, Invariant($"{took}; the standard lets a card be busy for {limitMs:0} ms{each}."),
                    "SD Physical Layer Simplified Specification 4.10, 4.6.2", [record])
                : Finding(
                    CheckIds.LongWait, FindingSeverity.Note, $"{took}: it waited for the card, and for a file system or other operations beside it; which of them held it up is not known.",
                    Practice, [record]);
        }
    }

    internal static CardFinding Finding(
        string id, FindingSeverity severity, string text, string source, IReadOnlyList<RecordKey> records, params (string Name, string Value)[] values) =>
        new(new Finding { Id = id, Severity = severity, Text = text, Source = source, Values = [.. values.Select(v => new FindingValue(v.Name, v.Value))] }, records);
}
