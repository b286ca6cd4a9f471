using Cardassay.Trials;
using Google.Protobuf;

namespace Cardassay.Wire;

/// <summary>Tells which run an encoded observation is of, without decoding the rest.</summary>
public static class ObservationHeads
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
}
