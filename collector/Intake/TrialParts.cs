using Cardassay.Collector.Analysis;
using Cardassay.Collector.Storage;
using Cardassay.Trials;

namespace Cardassay.Collector.Intake;

/// <summary>
/// Puts the parts of a long trial together again. A board journals a trial of more than five minutes in parts, so that a power cut
/// costs one of them; for the analysis they are one measurement.
/// </summary>
internal static class TrialParts
{
    /// <summary>The trials and parts of trials of a run among records.</summary>
    internal static IEnumerable<TrialRecord> Among(RunKey run, IEnumerable<StoredRecord> records)
    {
        foreach (StoredRecord record in records)
        {
            if (RunKey.Of(record) == run && record.Observed() is TrialMeasured trial)
            {
                yield return AsTrial(record, trial);
            }
        }
    }

    /// <summary>Trials and parts of trials in any order, by index, with parts joined.</summary>
    internal static IReadOnlyList<TrialRecord> Of(IEnumerable<TrialRecord> trials) =>
        [.. Join(trials.OrderBy(t => t.Trial.Index).ThenBy(t => t.Key, RecordOrder.ByKey))];

    /// <summary>A record that holds a trial.</summary>
    internal static TrialRecord AsTrial(StoredRecord record, TrialMeasured trial) =>
        new(record.Key, trial) { JournaledUnixNs = record.WallUnixNs };

    private static IEnumerable<TrialRecord> Join(IEnumerable<TrialRecord> byIndex)
    {
        TrialRecord? open = null;
        foreach (TrialRecord next in byIndex)
        {
            if (open is not null && next.Trial.Part > 1 && next.Trial.Kind == open.Trial.Kind
                && next.Trial.Repetition == open.Trial.Repetition)
            {
                open = open with { Trial = Add(open.Trial, next.Trial), JournaledUnixNs = next.JournaledUnixNs };
                continue;
            }

            if (open is not null)
            {
                yield return open;
            }

            open = next;
        }

        if (open is not null)
        {
            yield return open;
        }
    }

    private static LatencyHistogram? Together(LatencyHistogram? first, LatencyHistogram? next)
    {
        if (first is null || next is null)
        {
            return first ?? next;
        }

        var both = new LatencyHistogram();
        both.Merge(first);
        both.Merge(next);
        return both;
    }

    private static TrialMeasured Add(TrialMeasured first, TrialMeasured next)
    {
        var latency = new LatencyHistogram();
        latency.Merge(first.Latency);
        latency.Merge(next.Latency);
        return first with
        {
            Operations = first.Operations + next.Operations,
            Bytes = first.Bytes + next.Bytes,
            ElapsedNs = first.ElapsedNs + next.ElapsedNs,
            Latency = latency,
            ReadLatency = Together(first.ReadLatency, next.ReadLatency),
            ReadBytes = first.ReadBytes + next.ReadBytes,
            SlowestUnitNs = Math.Max(first.SlowestUnitNs, next.SlowestUnitNs),
            FastestUnitNs = first.FastestUnitNs == 0 || next.FastestUnitNs == 0 ? 0 : Math.Min(first.FastestUnitNs, next.FastestUnitNs),
            Units = first.Units + next.Units,
            UnitNs = [.. first.UnitNs.Concat(next.UnitNs).Take(TrialMeasured.MostUnits)],
            TimerLateNs = Math.Max(first.TimerLateNs, next.TimerLateNs),
            Timeline = [.. first.Timeline, .. next.Timeline],
            Stalls = [.. first.Stalls, .. next.Stalls.Select(s => s with { AtNs = s.AtNs + first.ElapsedNs })],
            StallCount = first.StallCount + next.StallCount,
            ContentKnown = first.ContentKnown && next.ContentKnown,
            Valid = first.Valid && next.Valid,
            Reasons = [.. first.Reasons.Union(next.Reasons)],
            During = [.. first.During, .. next.During],
            After = next.After,
        };
    }
}
