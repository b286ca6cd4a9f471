using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Storage;
using Cardassay.Trials;
using Google.Protobuf;

namespace Cardassay.Collector.Intake;

/// <summary>Makes what is kept of a run from its records. The same records always give the same bytes.</summary>
internal static class RunKeeping
{
    /// <summary>Raise it with every change of what is kept, or of how: everything is made again then.</summary>
    internal const int Version = 2;

    /// <summary>The run with what is kept of it, made from its records.</summary>
    /// <param name="index">Where they are.</param>
    /// <param name="run">The run.</param>
    internal static StoredRun Made(IRunIndex index, StoredRun run) =>
        run with { Kept = Make(run, index.Records(run.Key.Epoch, run.First, run.Last).Where(r => RunKey.Of(r) == run.Key)) };

    /// <summary>What is kept of a run; null when it is nothing that can be used.</summary>
    internal static V1.KeptRun? Read(StoredRun run)
    {
        try
        {
            return run.Kept is { } kept && V1.KeptRun.Parser.ParseFrom(kept) is var of
                && (of.Records, unchecked((long)of.Fingerprint)) == (run.Records, run.Fingerprint) ? of : null;
        }
        catch (InvalidProtocolBufferException)
        {
            return null;
        }
    }

    private static byte[] Make(StoredRun run, IEnumerable<StoredRecord> records)
    {
        var made = new V1.KeptRun
        {
            Records = run.Records, Fingerprint = unchecked((ulong)run.Fingerprint), FirstReceivedUnixNs = long.MaxValue,
        };
        var trials = new List<TrialRecord>();
        (RunOpened? Opened, CardIdentified? Card) said = default;
        var proofs = new Dictionary<int, (int Part, V1.KeptRecord Record)>();
        foreach (StoredRecord record in records)
        {
            made.NewestReceivedUnixNs = Math.Max(made.NewestReceivedUnixNs, record.ReceivedUnixNs);
            Observation? observation = record.Observed();
            if (observation is not null)
            {
                made.FirstSequence = made.HasFirstSequence ? made.FirstSequence : record.Key.Sequence;
                made.FirstReceivedUnixNs = Math.Min(made.FirstReceivedUnixNs, record.ReceivedUnixNs);
            }

            switch (observation)
            {
                case TrialMeasured trial:
                    trials.Add(TrialParts.AsTrial(record, trial));
                    break;
                case ProofMeasured proof:
                    if (!proofs.TryGetValue(proof.Index, out (int Part, V1.KeptRecord) before) || proof.Part >= before.Part)
                    {
                        proofs[proof.Index] = (proof.Part, AsTold(record)); // of a proof in parts the last one holds everything
                    }

                    break;
                case ConditionsSampled:
                    break;
                default:
                    // Of what came twice the last opening counts and the first card.
                    said = (observation as RunOpened ?? said.Opened, said.Card ?? observation as CardIdentified);
                    made.Told.Add(AsTold(record));
                    break;
            }
        }

        if (said.Opened is { } opened)
        {
            made.Figures = UnsafeByteOperations.UnsafeWrap(RunFiguresCodec.Encode(RunFigures.Of(opened, said.Card, TrialParts.Of(trials))));
        }

        made.Told.Add(proofs.Values.Select(p => p.Record).OrderBy(r => r.Sequence));
        return made.ToByteArray();
    }

    private static V1.KeptRecord AsTold(StoredRecord record) => new()
    {
        Sequence = record.Key.Sequence,
        WallUnixNs = record.WallUnixNs,
        ReceivedUnixNs = record.ReceivedUnixNs,
        ClockOffsetNs = record.ClockOffsetNs,
        Payload = UnsafeByteOperations.UnsafeWrap(record.Payload),
    };
}
