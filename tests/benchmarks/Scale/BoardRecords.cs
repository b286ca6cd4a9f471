using System.Globalization;
using System.Numerics;
using Cardassay.Collector.Analysis;
using Cardassay.Fixtures;
using Cardassay.Trials;
using Cardassay.Wire;
using Google.Protobuf;

namespace Cardassay.Benchmarks.Scale;

/// <summary>Observations as boards journal them: runs of eight trials with conditions, a latency histogram and a second-by-second timeline.</summary>
internal static class BoardRecords
{
    /// <summary>Trials of one run.</summary>
    internal const int TrialsPerRun = 8;

    private const ulong FirstWallUnixNs = 1_772_000_000_000_000_000;
    private const ulong NsBetween = 30_000_000_000;
    private static readonly byte[] NoBoot = new byte[16];

    /// <summary>The encoded observations of a made-up laboratory, run after run.</summary>
    /// <param name="cards">Cards.</param>
    /// <param name="runsPerCard">Runs of each.</param>
    /// <param name="seed">Seed of everything made up.</param>
    /// <param name="firstCard">Number of the first card, for laboratories made in groups.</param>
    internal static IEnumerable<byte[]> Payloads(int cards, int runsPerCard, int seed = 1, int firstCard = 0)
    {
        var random = new Random(seed);
        var laboratory = new SyntheticLaboratory
        {
            Cards = cards, RunsPerCard = runsPerCard, RunsPerNight = 2, Boards = 8, Noise = 0.03, Specimens = 0.2, Seed = seed,
            BoardOf = (card, run, boards) => (card + run / 15) % boards,
            Trials =
            [
                (TrialKind.SequentialWrite, 20, TrialRole.WarmUp), (TrialKind.RandomRead, 2400, TrialRole.Measured),
                (TrialKind.RandomWrite, 800, TrialRole.Measured), (TrialKind.Mixed, 900, TrialRole.Measured),
                (TrialKind.SequentialRead, 25, TrialRole.Measured), (TrialKind.SequentialWrite, 20, TrialRole.Measured),
                (TrialKind.SustainedWrite, 15, TrialRole.Measured), (TrialKind.SequentialWrite, 20, TrialRole.Closing),
            ],
            Touch = (_, trial) => Measured(trial, random),
        };
        foreach (RunRecord run in laboratory.Build().Runs)
        {
            string tag = SyntheticLaboratory.Tag(firstCard + int.Parse(run.Opened.Tag!.AsSpan(1), CultureInfo.InvariantCulture));
            CardIdentified? card = run.Card is null ? null : run.Card with { Identity = "identity-" + tag };
            foreach (Observation? o in (IEnumerable<Observation?>)[run.Opened with { Tag = tag }, card, .. run.Trials.Select(t => t.Trial), run.Closed])
            {
                if (o is not null)
                {
                    yield return ObservationCodec.Encode(o);
                }
            }
        }
    }

    internal static V1.Record Record(byte[] epoch, ulong sequence, byte[] payload) => new()
    {
        Epoch = ByteString.CopyFrom(epoch),
        Sequence = sequence,
        SchemaVersion = ProtocolVersion.Schema,
        BootId = ByteString.CopyFrom(NoBoot),
        WallUnixNs = (long)(FirstWallUnixNs + (sequence * NsBetween)),
        MonotonicNs = (long)(sequence * NsBetween),
        Payload = ByteString.CopyFrom(payload),
    };

    /// <summary>Half a minute of one trial: a histogram of about forty occupied buckets and thirty seconds of timeline.</summary>
    private static TrialMeasured Measured(TrialMeasured trial, Random random)
    {
        // Buckets at their beginnings, as a histogram gives them: 8 significant bits.
        var buckets = new SortedDictionary<long, long>();
        double typicalNs = trial.ElapsedNs / (double)trial.Operations;
        for (int i = 0; i < 40; i++)
        {
            long ns = Math.Max(1, (long)(typicalNs * Math.Pow(1.12, i - 10)));
            int shift = Math.Max(0, 56 - BitOperations.LeadingZeroCount((ulong)ns));
            ns = ns >> shift << shift;
            buckets[ns] = buckets.GetValueOrDefault(ns) + 1 + random.Next((int)Math.Max(2, trial.Operations / 40));
        }

        long perSecond = trial.Operations / 30;
        return trial with
        {
            Latency = LatencyHistogram.OfBuckets(buckets.Select(b => (b.Key, b.Value))),
            Timeline = [.. Enumerable.Range(0, 30).Select(_ =>
            {
                long operations = perSecond + random.Next(-(int)(perSecond / 20) - 1, (int)(perSecond / 20) + 1);
                return new TimelineSecond(operations, operations * trial.BlockBytes, (long)(typicalNs * (2 + random.NextDouble() * 20)));
            })],
            During = [trial.Before, trial.Before],
        };
    }
}
