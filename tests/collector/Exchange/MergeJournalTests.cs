using System.Globalization;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Files;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Storage.Memory;
using Google.Protobuf;

namespace Cardassay.Collector.Tests.Exchange;

/// <summary>What of another collector's entries stands in memory while they are sorted, and that sorting does not lose any.</summary>
public sealed class MergeJournalTests : IDisposable
{
    private const int Seed = 17;
    private static readonly byte[] Epoch = [.. Enumerable.Range(1, 16).Select(i => (byte)i)];

    private readonly DirectoryInfo _folder = Directory.CreateTempSubdirectory("cardassay-test-");

    [Fact]
    public void Add_RecordsInTheirOrder_TakesTheSameMemoryForTenAndForAMillion()
    {
        long few = Allocated(10), many = Allocated(1_000_000);
        Assert.InRange(many, 0, few + 1_000);

        static long Allocated(int records)
        {
            var journal = new MergeJournal("e");
            long before = GC.GetAllocatedBytesForCurrentThread();
            for (int i = 1; i <= records; i++)
            {
                Assert.True(journal.Add(new MergeJournal.Placed(i, 100L * i, Explains: false), (100L * i) + 100) == i > 1);
            }

            Assert.Equal(records, journal.Left);
            return GC.GetAllocatedBytesForCurrentThread() - before;
        }
    }

    [Fact]
    public void Next_OfRecordsInAnyOrder_GivesThemByNumberAndWhatExplainsAHoleFirst()
    {
        var random = new Random(Seed);
        for (int round = 0; round < 300; round++)
        {
            var journal = new MergeJournal("e");
            MergeJournal.Placed[] given = new MergeJournal.Placed[random.Next(1, 40)];
            (long sequence, long at) = (1, 0);
            for (int i = 0; i < given.Length; i++)
            {
                sequence = random.Next(3) == 0 ? random.Next(1, 40) : sequence + 1;
                at += random.Next(4) == 0 ? 3 : 1; // sometimes other entries lie between
                given[i] = new MergeJournal.Placed(sequence, at, Explains: random.Next(10) == 0);
                journal.Add(given[i], at + 1);
            }

            var came = new List<MergeJournal.Placed>();
            while (journal.Next is { } next)
            {
                came.Add(next);
                journal.Pass(next.At + 1);
            }

            Assert.True(
                given.OrderBy(p => !p.Explains).ThenBy(p => p.Sequence).ThenBy(p => p.At).SequenceEqual(came),
                string.Create(CultureInfo.InvariantCulture, $"round {round} of seed {Seed}"));
            Assert.Equal(0, journal.Left);
        }
    }

    [Fact]
    public void Of_RecordsInPiecesAndTwice_TakesEachOnce()
    {
        using EntrySpool spool = EntrySpool.In(_folder.FullName);
        foreach (int sequence in (int[])[5, 6, 7, 1, 2, 3, 3, 4, 6, 7, 8])
        {
            spool.Add(Record(sequence, bytes: 8));
        }

        using var store = new MemoryRecordStore();
        var plan = MergePlan.Of(store, spool, "north", 2_000_000_000_000_000_000);
        Assert.Equal([1, 2, 3, 4, 5, 6, 7, 8], plan.Entries.Select(e => (int)e.Delivered.Record.Sequence));
        Assert.Equal((8UL, 3UL, 0), (plan.Summary.RecordsNew, plan.Summary.RecordsKnown, plan.Summary.Refused.Count));
    }

    [Fact]
    public void Of_MoreInConflictThanReportsCanHold_IsRefusedWithTheRemedy()
    {
        const int bytes = 1_000_000;
        using EntrySpool spool = EntrySpool.In(_folder.FullName);
        V1.IntakeEntry conflict = Record(1, bytes);
        conflict.Delivered.Conflicting = true;
        for (long i = 0; i <= MergePlan.MostHeldBytes / bytes; i++)
        {
            spool.Add(conflict);
        }

        using var store = new MemoryRecordStore();
        string refused = Assert.Throws<EvidenceException>(() => MergePlan.Of(store, spool, "north", 2_000_000_000_000_000_000)).Message;
        Assert.Contains("records in conflict have more than 256 MiB", refused, StringComparison.Ordinal);
        Assert.Contains("share a PostgreSQL database", refused, StringComparison.Ordinal);
    }

    public void Dispose() => _folder.Delete(recursive: true);

    private static V1.IntakeEntry Record(int sequence, int bytes)
    {
        using var payload = new MemoryStream();
        using (var to = new CodedOutputStream(payload))
        {
            to.WriteTag(127, WireFormat.WireType.LengthDelimited); // a field that no version knows
            to.WriteBytes(ByteString.CopyFrom(new byte[bytes]));
        }

        return new V1.IntakeEntry
        {
            ReceivedUnixNs = 1,
            Delivered = new V1.Delivered
            {
                Board = "bench",
                Record = new V1.Record
                {
                    Epoch = ByteString.CopyFrom(Epoch), Sequence = (ulong)sequence, WallUnixNs = 1, MonotonicNs = 1,
                    BootId = ByteString.CopyFrom(new byte[16]),
                    Payload = ByteString.CopyFrom(payload.ToArray()),
                },
            },
        };
    }
}
