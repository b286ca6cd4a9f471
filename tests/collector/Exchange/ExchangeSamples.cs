using System.Security.Cryptography;
using System.Text;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Tests.Report;
using Cardassay.Trials;
using Cardassay.Wire;
using Google.Protobuf;

namespace Cardassay.Collector.Tests.Exchange;

/// <summary>Master data as the entries a collector would hold: journals of its boards without a hole, claims, figures kept by hand.</summary>
internal static class ExchangeSamples
{
    internal const string Host = "annas-workbench";
    internal const string User = "anna.quist";
    internal const string Shop = "Corner Shop of Tarrow";
    internal const string Label = "WEDDING PHOTOS";

    internal static List<V1.IntakeEntry> Entries(int cards = 5, int nights = 1, int repetitions = 8, int seed = 5, string boardPrefix = "")
    {
        MasterData data = SampleData.Build(cards, nights, repetitions, seed);
        var sequences = new Dictionary<string, ulong>(StringComparer.Ordinal);
        var entries = new List<V1.IntakeEntry>();
        foreach (RunRecord run in data.Runs)
        {
            RunOpened opened = run.Opened with
            {
                HostName = Host,
                TargetPath = $"/media/{User}/{Label}",
                MountOptions = "rw,uid=1000",
                BootId = "c0ffee00-1111-2222-3333-444455556666",
                PlanText = "{ /* Anna's own */ \"name\": \"p\" }",
                KernelRelease = "6.12.9-annas-kernel",
            };
            RunClosed? closed = run.Closed is { } c
                ? c with { Reason = $"/media/{User}/{Label}/scratch on {run.Board} ({Host}) went away" }
                : null;
            Observation[] observations =
            [
                opened, .. run.Card is null ? (Observation[])[] : [run.Card], .. run.Trials.Select(t => t.Trial), .. run.Proofs.Select(p => p.Proof),
                .. closed is null ? (Observation[])[] : [closed],
            ];
            string board = boardPrefix + run.Board;
            foreach (Observation observation in observations)
            {
                ulong sequence = sequences[board] = sequences.GetValueOrDefault(board) + 1;
                entries.Add(Delivered(board, seed, sequence, ObservationCodec.Encode(observation), Ns(run.ReceivedAt), Ns(run.OpenedAt), run.ClockOffset.Ticks * 100));
            }
        }

        entries = [.. entries.OrderBy(e => Convert.ToHexString(e.Delivered.Record.Epoch.Span), StringComparer.Ordinal).ThenBy(e => e.Delivered.Record.Sequence)];
        foreach (ClaimEntry claim in data.Claims)
        {
            V1.Claim message = ClaimCodec.ToMessage(claim.Claim);
            message.BoughtAt = Shop;
            entries.Add(new V1.IntakeEntry { ReceivedUnixNs = Ns(claim.At), OperatorEvent = new V1.OperatorEvent { Claim = message } });
        }

        var kept = new V1.HandKept { ImportId = "0123456789ab", Source = "annas results.csv", SourceSha256 = ByteString.CopyFrom(new byte[32]) };
        kept.Figures.AddRange(data.HandKept.Select((h, i) => new V1.HandKeptFigure
        {
            Tag = h.Tag, Kind = (V1.TrialKind)h.Kind, Value = h.Value, Line = (uint)i + 2, AsWritten = "told by Anna",
        }));
        entries.Add(new V1.IntakeEntry { ReceivedUnixNs = Ns(data.AsOf), OperatorEvent = new V1.OperatorEvent { HandKept = kept } });
        return entries;
    }

    internal static V1.IntakeEntry Delivered(
        string board, int seed, ulong sequence, byte[] payload, long receivedUnixNs = 1, long wallUnixNs = 1, long clockOffsetNs = 0) => new()
        {
            ReceivedUnixNs = receivedUnixNs,
            Delivered = new V1.Delivered
            {
                Board = board,
                ClockOffsetNs = clockOffsetNs,
                Record = new V1.Record
                {
                    Epoch = ByteString.CopyFrom(SHA256.HashData(Encoding.UTF8.GetBytes($"{board} {seed}")).AsSpan(0, 16)),
                    Sequence = sequence,
                    WallUnixNs = wallUnixNs,
                    MonotonicNs = (long)sequence * 1000,
                    BootId = ByteString.CopyFrom(new byte[16]),
                    SchemaVersion = ProtocolVersion.Schema,
                    Payload = ByteString.CopyFrom(payload),
                },
            },
        };

    /// <summary>Ten years before the sample's own time, which lies in the future of the machine that runs the tests.</summary>
    private static long Ns(DateTimeOffset at) => (at.AddYears(-10) - DateTimeOffset.UnixEpoch).Ticks * 100;
}
