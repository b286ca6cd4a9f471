using Cardassay.Trials;
using Google.Protobuf;

namespace Cardassay.Wire;

/// <summary>
/// Turns the trials a collector keeps of a run into messages and back. Conditions are kept in a list beside them, each once.
/// </summary>
public static class KeptRunCodec
{
    private static readonly MessageParser<V1.ObservationHead> s_heads = V1.ObservationHead.Parser.WithDiscardUnknownFields(true);

    /// <summary>The run that an encoded observation is of; null for one that is of no run and for what cannot be read.</summary>
    public static RunId? RunOf(ReadOnlySpan<byte> payload)
    {
        try
        {
            V1.ObservationHead head = s_heads.ParseFrom(payload);
            V1.RunHead? run = head.KindCase switch
            {
                V1.ObservationHead.KindOneofCase.RunOpened => head.RunOpened,
                V1.ObservationHead.KindOneofCase.CardIdentified => head.CardIdentified,
                V1.ObservationHead.KindOneofCase.TrialMeasured => head.TrialMeasured,
                V1.ObservationHead.KindOneofCase.ConditionsSampled => head.ConditionsSampled,
                V1.ObservationHead.KindOneofCase.RunClosed => head.RunClosed,
                V1.ObservationHead.KindOneofCase.ProofMeasured => head.ProofMeasured,
                _ => null,
            };
            return run?.RunId.Length == 16 ? RunId.FromBytes(run.RunId.Span) : null;
        }
        catch (InvalidProtocolBufferException)
        {
            return null;
        }
    }

    /// <summary>True for an encoded observation that closes its run.</summary>
    public static bool ClosesRun(ReadOnlySpan<byte> payload) => ObservationCodec.KindOf(payload) == V1.Observation.KindOneofCase.RunClosed;

    /// <summary>A trial, whose conditions have the places given.</summary>
    /// <param name="trial">The trial.</param>
    /// <param name="placeOf">Place of conditions in the list that is kept beside the trials, from 0.</param>
    public static V1.KeptTrial ToMessage(TrialMeasured trial, Func<Conditions, int> placeOf)
    {
        ArgumentNullException.ThrowIfNull(trial);
        ArgumentNullException.ThrowIfNull(placeOf);
        V1.TrialMeasured bare = TrialCodec.ToMessage(
            trial with { Latency = LatencyHistogram.OfBuckets([]), ReadLatency = null, During = [] });
        (bare.Latency, bare.Before, bare.After) = (null, null, null);
        var kept = new V1.KeptTrial
        {
            Trial = bare,
            Latency = UnsafeByteOperations.UnsafeWrap(trial.Latency.ToPacked()),
            Before = placeOf(trial.Before),
            After = placeOf(trial.After),
        };
        kept.During.AddRange(trial.During.Select(placeOf));
        if (trial.ReadLatency is { } reads)
        {
            kept.ReadLatency = UnsafeByteOperations.UnsafeWrap(reads.ToPacked());
        }

        return kept;
    }

    /// <summary>The trial of a message.</summary>
    /// <param name="kept">The message.</param>
    /// <param name="conditions">The list of conditions beside it.</param>
    /// <exception cref="WireFormatException">It is no such message, or names conditions that are not in the list.</exception>
    public static TrialMeasured FromMessage(V1.KeptTrial kept, IReadOnlyList<Conditions> conditions)
    {
        ArgumentNullException.ThrowIfNull(kept);
        ArgumentNullException.ThrowIfNull(conditions);
        Conditions At(int place) => place >= 0 && place < conditions.Count
            ? conditions[place]
            : throw new WireFormatException($"Not a kept trial: there are no conditions {place}.");
        return TrialCodec.FromMessage(kept.Trial ?? throw new WireFormatException("Not a kept trial: it holds none.")) with
        {
            Latency = LatencyHistogram.OfPacked(kept.Latency.ToByteArray()),
            ReadLatency = kept.HasReadLatency ? LatencyHistogram.OfPacked(kept.ReadLatency.ToByteArray()) : null,
            Before = At(kept.Before),
            After = At(kept.After),
            During = kept.During.Count == 0 ? [] : [.. kept.During.Select(At)],
        };
    }

    /// <summary>Conditions as a message.</summary>
    public static V1.Conditions ToMessage(Conditions conditions) => ConditionsCodec.ToMessage(conditions);

    /// <summary>The conditions of a message.</summary>
    public static Conditions FromMessage(V1.Conditions message) => ConditionsCodec.FromMessage(message);
}
