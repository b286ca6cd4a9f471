using Cardassay.Trials;

namespace Cardassay.Wire;

internal static class TrialCodec
{
    internal static V1.TrialMeasured ToMessage(TrialMeasured trial)
    {
        var message = new V1.TrialMeasured
        {
            RunId = ObservationCodec.ToBytes(trial.RunId),
            Index = trial.Index,
            Repetition = trial.Repetition,
            Role = (V1.TrialRole)trial.Role,
            Kind = (V1.TrialKind)trial.Kind,
            BlockBytes = trial.BlockBytes,
            QueueDepth = trial.QueueDepth,
            RangeStartBytes = trial.RangeStartBytes,
            RangeBytes = trial.RangeBytes,
            Seed = trial.Seed,
            Operations = trial.Operations,
            Bytes = trial.Bytes,
            ElapsedNs = trial.ElapsedNs,
            Latency = ToMessage(trial.Latency),
            StallCount = trial.StallCount,
            StallLimitNs = trial.StallLimitNs,
            ContentKnown = trial.ContentKnown,
            Invalid = !trial.Valid,
            Before = ConditionsCodec.ToMessage(trial.Before),
            After = ConditionsCodec.ToMessage(trial.After),
            Timeline = new V1.Timeline(),
            Part = trial.Part,
            ReadPercent = trial.ReadPercent,
            OpenSegments = trial.OpenSegments,
            SegmentBytes = trial.SegmentBytes,
            Extending = trial.Extending,
            Standard = (V1.ClassStandard)trial.Standard,
            Units = trial.Units,
            SlowestUnitNs = trial.SlowestUnitNs,
            ReadBytes = trial.ReadBytes,
            ReadStallLimitNs = trial.ReadStallLimitNs,
            TimerLateNs = trial.TimerLateNs,
            Pass = trial.Pass,
            RangeMoves = trial.RangeMoves,
            Recovery = trial.Recovery,
            LeftOutUnits = trial.LeftOutUnits,
            CountedUnitBytes = trial.CountedUnitBytes,
            FastestUnitNs = trial.FastestUnitNs,
        };
        if (trial.ReadLatency is { } reads)
        {
            message.ReadLatency = ToMessage(reads);
        }

        if (trial.WrittenBeforeBytes is { } writtenBefore)
        {
            message.WrittenBeforeBytes = writtenBefore;
        }

        if (trial.SinceWholeBytes is { } sinceWhole)
        {
            message.SinceWholeBytes = sinceWhole;
        }

        if (trial.FilledBytes is { } filled)
        {
            message.FilledBytes = filled;
        }

        message.UnitNs.AddRange(trial.UnitNs);
        foreach (TimelineSecond second in trial.Timeline)
        {
            message.Timeline.Operations.Add(second.Operations);
            message.Timeline.Bytes.Add(second.Bytes);
            message.Timeline.MaxLatencyNs.Add(second.MaxLatencyNs);
        }

        foreach (Stall stall in trial.Stalls)
        {
            message.Stalls.Add(new V1.Stall { AtNs = stall.AtNs, OffsetBytes = stall.OffsetBytes, LatencyNs = stall.LatencyNs, IsRead = stall.IsRead });
        }

        message.Reasons.AddRange(trial.Reasons);
        message.During.AddRange(trial.During.Select(ConditionsCodec.ToMessage));
        return message;
    }

    internal static TrialMeasured FromMessage(V1.TrialMeasured message) => new()
    {
        RunId = ObservationCodec.ToRunId(message.RunId),
        Index = message.Index,
        Repetition = message.Repetition,
        Role = (TrialRole)message.Role,
        Kind = (TrialKind)message.Kind,
        BlockBytes = message.BlockBytes,
        QueueDepth = message.QueueDepth,
        RangeStartBytes = message.RangeStartBytes,
        RangeBytes = message.RangeBytes,
        Seed = message.Seed,
        Operations = message.Operations,
        Bytes = message.Bytes,
        ElapsedNs = message.ElapsedNs,
        Latency = FromMessage(message.Latency),
        Timeline = FromMessage(message.Timeline),
        Stalls = [.. message.Stalls.Select(s => new Stall(s.AtNs, s.OffsetBytes, s.LatencyNs, s.IsRead))],
        StallCount = message.StallCount,
        StallLimitNs = message.StallLimitNs,
        ContentKnown = message.ContentKnown,
        Valid = !message.Invalid,
        Reasons = [.. message.Reasons],
        Before = ConditionsCodec.FromMessage(message.Before),
        During = [.. message.During.Select(ConditionsCodec.FromMessage)],
        After = ConditionsCodec.FromMessage(message.After),
        Part = message.Part,
        ReadPercent = message.ReadPercent,
        OpenSegments = message.OpenSegments,
        SegmentBytes = message.SegmentBytes,
        Extending = message.Extending,
        Standard = (ClassStandard)message.Standard,
        Units = message.Units,
        SlowestUnitNs = message.SlowestUnitNs,
        UnitNs = message.UnitNs.Count == 0 ? [] : [.. message.UnitNs],
        ReadLatency = message.ReadLatency is null ? null : FromMessage(message.ReadLatency),
        ReadBytes = message.ReadBytes,
        ReadStallLimitNs = message.ReadStallLimitNs,
        TimerLateNs = message.TimerLateNs,
        Pass = message.Pass,
        RangeMoves = message.RangeMoves,
        WrittenBeforeBytes = message.HasWrittenBeforeBytes ? message.WrittenBeforeBytes : null,
        SinceWholeBytes = message.HasSinceWholeBytes ? message.SinceWholeBytes : null,
        FilledBytes = message.HasFilledBytes ? message.FilledBytes : null,
        Recovery = message.Recovery,
        LeftOutUnits = message.LeftOutUnits,
        CountedUnitBytes = message.CountedUnitBytes,
        FastestUnitNs = message.FastestUnitNs,
    };

    private static V1.LatencyHistogram ToMessage(LatencyHistogram latency)
    {
        var message = new V1.LatencyHistogram();
        long previous = 0;
        foreach ((long latencyNs, long count) in latency.Buckets())
        {
            message.LatencyNsDelta.Add(latencyNs - previous);
            message.Count.Add(count);
            previous = latencyNs;
        }

        return message;
    }

    private static LatencyHistogram FromMessage(V1.LatencyHistogram? message)
    {
        if (message is null)
        {
            return LatencyHistogram.OfBuckets([]); // takes no counters
        }

        if (message.LatencyNsDelta.Count != message.Count.Count)
        {
            throw new WireFormatException("Not an observation: latency has "
                + $"{message.LatencyNsDelta.Count} bucket edges and {message.Count.Count} counts.");
        }

        long edge = 0;
        var buckets = new (long LatencyNs, long Count)[message.Count.Count];
        for (int i = 0; i < buckets.Length; i++)
        {
            edge = unchecked(edge + message.LatencyNsDelta[i]);
            if (message.Count[i] < 0)
            {
                throw new WireFormatException($"Not an observation: latency bucket {i} has a negative count.");
            }

            buckets[i] = (edge, message.Count[i]);
        }

        return LatencyHistogram.OfBuckets(buckets);
    }

    private static IReadOnlyList<TimelineSecond> FromMessage(V1.Timeline? message)
    {
        if (message is null)
        {
            return [];
        }

        int seconds = message.Operations.Count;
        if (message.Bytes.Count != seconds || message.MaxLatencyNs.Count != seconds)
        {
            throw new WireFormatException("Not an observation: the lists of timeline differ in length.");
        }

        var timeline = new TimelineSecond[seconds];
        for (int i = 0; i < seconds; i++)
        {
            timeline[i] = new TimelineSecond(message.Operations[i], message.Bytes[i], message.MaxLatencyNs[i]);
        }

        return timeline;
    }
}
