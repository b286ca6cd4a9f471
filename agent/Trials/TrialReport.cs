using System.Globalization;
using Cardassay.Agent.BlockIo;
using Cardassay.Judging;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Agent.Trials;

/// <summary>Makes the record of a trial from what the engine measured.</summary>
internal static class TrialReport
{
    public static TrialMeasured Of(TrialMeasured frame, TrialSpec spec, TrialRaw raw, TargetKind target)
    {
        List<string> reasons = WhyInvalid(spec, raw);
        bool isClassWrite = spec.Kind == TrialKind.ClassWrite;
        bool isValid = reasons.Count == 0;
        TrialMeasured trial = frame with
        {
            Kind = spec.Kind,
            BlockBytes = spec.BlockBytes,
            QueueDepth = spec.QueueDepth,
            ReadPercent = spec.ReadPercent,
            OpenSegments = spec.OpenSegments,
            SegmentBytes = spec.SegmentBytes,
            Extending = spec.Extending,
            Recovery = spec.Recovery,
            Pass = spec.Pass,
            RangeMoves = spec.RangeMoves,
            Standard = spec.Standard,
            Units = raw.Units,
            SlowestUnitNs = raw.SlowestUnitNs,
            FastestUnitNs = raw.FastestUnitNs,
            LeftOutUnits = isClassWrite ? ClassConditions.LeftOutUnits : 0,
            CountedUnitBytes = isClassWrite ? ClassConditions.CountedBytes(spec.SegmentBytes) : 0,
            RangeStartBytes = spec.StartBytes,
            RangeBytes = spec.LengthBytes,
            Seed = spec.Seed,
            Operations = raw.Operations,
            Bytes = raw.Bytes,
            ElapsedNs = raw.ElapsedNs,
            Timeline = raw.Timeline,
            Stalls = raw.Stalls,
            StallCount = raw.StallCount,
            StallLimitNs = spec.StallLimitNs,
            ReadLatency = raw.Reads is { } reads ? LatencyHistogram.OfBuckets(reads.Buckets()) : null,
            ReadBytes = raw.ReadBytes,
            ReadStallLimitNs = spec.ReadStallLimitNs,
            UnitNs = raw.UnitNs,
            TimerLateNs = raw.TimerLateNs,
            ContentKnown = raw.UnknownBlocks == 0 && raw.Mismatches == 0,
            Reasons = reasons,
            Valid = isValid,
        };
        IReadOnlyList<string> implausible = Plausibility.Check(trial, target);
        return trial with
        {
            Valid = isValid && implausible.Count == 0,
            Reasons = [.. reasons, .. implausible, .. TrialRemarks.Of(trial, target)],
        };
    }

    private static List<string> WhyInvalid(TrialSpec spec, TrialRaw raw)
    {
        var reasons = new List<string>();
        if (raw.End == TrialEnd.Error)
        {
            reasons.Add(
                string.Create(CultureInfo.InvariantCulture, $"{TrialReasons.IoError} at byte {raw.ErrorOffset}: {Errno.Text(raw.Errno)}."));
        }

        if (raw.Operations == 0)
        {
            reasons.Add("No operation was completed.");
        }

        if (spec.Kind == TrialKind.ClassWrite && raw.Operations > 0 && raw.Units < ClassConditions.LeastUnits)
        {
            reasons.Add(string.Create(
                CultureInfo.InvariantCulture,
                $"Only {raw.Units} whole allocation units were written within the time; {ClassConditions.LeastUnits} are needed, "
                    + $"of which the first does not count."));
        }

        if (raw.Mismatches > 0)
        {
            reasons.Add(string.Create(
                CultureInfo.InvariantCulture, $"{raw.Mismatches} blocks of 4,096 bytes came back other than they were "
                    + $"written, the first at byte {raw.FirstMismatchOffset}."));
        }

        return reasons;
    }
}
