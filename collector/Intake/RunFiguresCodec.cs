using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Judging;
using Cardassay.Trials;
using Google.Protobuf;

namespace Cardassay.Collector.Intake;

/// <summary>
/// Turns the figures of a run into bytes and back: some twenty bytes a trial, of which a laboratory of ten years has millions.
/// </summary>
internal static class RunFiguresCodec
{
    /// <summary>The bytes of the figures of a run all of whose records are of one journal.</summary>
    internal static byte[] Encode(RunFigures figures)
    {
        var message = new V1.KeptFigures { ElapsedNs = figures.ElapsedNs, Valid = figures.Valid };
        var places = new Dictionary<FigureConditions, int>(ReferenceEqualityComparer.Instance);
        bool hasOperations = figures.Trials.Any(t => t.Slow != default);
        long before = 0;
        for (int i = 0; i < figures.Trials.Count; i++)
        {
            TrialOutcome trial = figures.Trials[i];
            if (!places.TryGetValue(trial.Of, out int place))
            {
                places.Add(trial.Of, place = places.Count);
                message.Conditions.Add(ToMessage(trial.Of));
            }

            message.Place.Add(place);
            message.Value.Add(trial.Value);
            message.Sequence.Add(trial.Record.Sequence - before);
            before = trial.Record.Sequence;
            message.Repetition.Add(trial.Repetition);
            message.Rule.Add(trial.Rule is { } rule ? (int)rule + 1 : 0);
            if (hasOperations)
            {
                message.LongestNs.Add(trial.Slow.LongestNs);
                message.Stalls.Add(trial.Slow.Stalls);
            }

            if (trial.SlowReads is { } reads)
            {
                message.Reads.Add(new V1.KeptReads { Trial = i, LongestNs = reads.LongestNs, Stalls = reads.Stalls });
            }

            if (trial.Reasons.Count > 0)
            {
                message.Reasons.Add(new V1.KeptReasons { Trial = i, Text = { trial.Reasons } });
            }
        }

        message.Stall.AddRange(figures.Stalls.Select(s => new V1.KeptStall
        {
            Kind = (int)s.Kind, IsRead = s.IsRead, IsCardAlone = s.IsCardAlone, LatencyNs = s.LatencyNs, Sequence = s.Record.Sequence,
        }));
        message.Empty.AddRange(figures.Empty.Select(e => new V1.KeptEmpty
        {
            Kind = (int)e.Kind, ElapsedNs = e.ElapsedNs, Sequence = e.Record.Sequence,
        }));
        message.Closing.AddRange(figures.Closing.Select(c => new V1.KeptClosing { Trial = c.Place, Ratio = c.Ratio }));
        return message.ToByteArray();
    }

    /// <summary>Number of trials, how long they took together, ns, and number of those that the board calls valid.</summary>
    /// <exception cref="InvalidProtocolBufferException">They are no figures.</exception>
    internal static (int Count, long ElapsedNs, int Valid) Head(ReadOnlySpan<byte> figures)
    {
        V1.KeptFigures message = V1.KeptFigures.Parser.ParseFrom(figures);
        return (message.Value.Count, message.ElapsedNs, message.Valid);
    }

    /// <summary>The figures.</summary>
    /// <param name="figures">What <see cref="Encode"/> gave.</param>
    /// <param name="epoch">Journal of the records.</param>
    /// <exception cref="InvalidProtocolBufferException">They are no figures.</exception>
    internal static RunFigures Decode(ReadOnlySpan<byte> figures, string epoch)
    {
        V1.KeptFigures message = V1.KeptFigures.Parser.ParseFrom(figures);
        FigureConditions[] conditions = [.. message.Conditions.Select(c => FromMessage(c))];
        var trials = new TrialOutcome[message.Value.Count];
        long sequence = 0;
        for (int i = 0; i < trials.Length; i++)
        {
            sequence += message.Sequence[i];
            trials[i] = new TrialOutcome(
                conditions[message.Place[i]], new RecordKey(epoch, sequence), message.Value[i], message.Repetition[i],
                message.Rule[i] == 0 ? null : (SetAsideRule)(message.Rule[i] - 1), [])
            {
                Slow = message.LongestNs.Count == 0 ? default : new SlowOperations(message.LongestNs[i], message.Stalls[i]),
            };
        }

        foreach (V1.KeptReads reads in message.Reads)
        {
            trials[reads.Trial] = trials[reads.Trial] with { SlowReads = new SlowOperations(reads.LongestNs, reads.Stalls) };
        }

        foreach (V1.KeptReasons reasons in message.Reasons)
        {
            trials[reasons.Trial] = trials[reasons.Trial] with { Reasons = [.. reasons.Text] };
        }

        return new RunFigures
        {
            Trials = trials,
            ElapsedNs = message.ElapsedNs,
            Valid = message.Valid,
            Stalls =
            [
                .. message.Stall.Select(
                    s => new LongStall((TrialKind)s.Kind, s.IsRead, s.IsCardAlone, s.LatencyNs, new RecordKey(epoch, s.Sequence))),
            ],
            Empty = [.. message.Empty.Select(e => new EmptyTrial((TrialKind)e.Kind, e.ElapsedNs, new RecordKey(epoch, e.Sequence)))],
            Closing = [.. message.Closing.Select(c => (c.Trial, c.Ratio))],
        };
    }

    private static V1.KeptConditions ToMessage(FigureConditions of)
    {
        var message = new V1.KeptConditions
        {
            Kind = (int)of.Kind,
            BlockBytes = of.BlockBytes,
            QueueDepth = of.QueueDepth,
            Variant = of.Variant,
            RangeStartBytes = of.Range.StartBytes,
            RangeLengthBytes = of.Range.LengthBytes,
            RangeSharePercent = of.Range.SharePercent,
            Fill = (int)of.Fill,
            StallLimitNs = of.StallLimitNs,
            ReadStallLimitNs = of.ReadStallLimitNs,
        };
        if (of.BusMode is { } mode)
        {
            message.BusMode = mode;
        }

        return message;
    }

    private static FigureConditions FromMessage(V1.KeptConditions of) => new(
        (TrialKind)of.Kind, of.BlockBytes, of.QueueDepth, of.Variant,
        new AddressRange(of.RangeStartBytes, of.RangeLengthBytes, of.RangeSharePercent),
        (CardFill)of.Fill, of.HasBusMode ? of.BusMode : null, of.StallLimitNs, of.ReadStallLimitNs);
}
