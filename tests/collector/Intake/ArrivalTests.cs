using Cardassay.Collector.Intake;
using Google.Protobuf;

namespace Cardassay.Collector.Tests.Intake;

/// <summary>
/// What becomes of the records of a message: entries of the log in which they stand as they came, or none of them. In sound messages, and in
/// 20,000 that were damaged (CARDASSAY_FULL=1: 2,000,000). The seed is in the failure message.
/// </summary>
public sealed class ArrivalTests
{
    private const int Seed = 6_111;

    [Fact]
    public void Of_DamagedMessages_AreTakenAsTheyCame_OrRefused()
    {
        var random = new Random(Seed);
        int taken = 0;
        int refused = 0;
        for (int round = 0; round < MessageBytes.Rounds; round++)
        {
            byte[] bytes = Some(random);
            bytes = random.Next(3) == 0 ? bytes : MessageBytes.Damaged(bytes, random);
            List<V1.Record>? expected = Parsed(bytes, out List<ByteString> records);
            string where = $"seed {Seed}, round {round}: {Convert.ToHexString(bytes)}";
            IReadOnlyList<Arrival> arrivals;
            string? wrong;
            try
            {
                (arrivals, wrong) = Of(bytes);
            }
            catch (BadRecordException)
            {
                Assert.True(expected is null, $"{where}: every record can be read, and it is refused");
                refused++;
                continue;
            }

            Assert.True(expected is not null, $"{where}: not every record can be read, and it is taken");
            int firstWrong = expected.FindIndex(r => EntryStore.WhatIsWrong(r) is not null);
            Assert.True(arrivals.Count == (firstWrong < 0 ? expected.Count : firstWrong) && (wrong is null) == (firstWrong < 0), $"{where}: {arrivals.Count} taken, then {wrong}");
            for (int i = 0; i < arrivals.Count; i++)
            {
                V1.IntakeEntry entry = Inside(arrivals[i]);
                Assert.True(expected[i].Equals(entry.Delivered.Record), where);
                Assert.True(arrivals[i].Entry.AsSpan().IndexOf(records[i].Span) > 0, $"{where}: record {i} does not stand in the log as it came");
                taken++;
            }
        }

        Assert.True(taken > MessageBytes.Rounds / 20 && refused > MessageBytes.Rounds / 20, $"{taken} taken, {refused} refused: one side was hardly tried");
    }

    /// <summary>A log with an entry that the library refuses could not be projected, an export with one not be read.</summary>
    [Fact]
    public void Of_GroupsNestedEverDeeper_TakesNoneThatCannotBeReadWithinAnExport()
    {
        int taken = 0;
        for (int depth = 1; depth <= 110; depth++)
        {
            byte[] record = [.. Record(new Random(Seed)).ToByteArray(), .. Enumerable.Repeat((byte)0x53, depth), .. Enumerable.Repeat((byte)0x54, depth)];
            try
            {
                Assert.NotNull(Inside(Of(new V1.Records { Records_ = { ByteString.CopyFrom(record) } }.ToByteArray()).Arrivals[0]).Delivered.Record);
                taken++;
            }
            catch (BadRecordException)
            {
            }
        }

        Assert.Equal(90, taken);
    }

    [Fact]
    public void Entry_OfARecordAsItCame_IsTheEntryTheEncoderWrites()
    {
        V1.Record sound = Record(new Random(Seed));
        Arrival arrival = Assert.Single(Of(TestBoard.Message(sound).ToByteArray()).Arrivals);
        var expected = new V1.IntakeEntry
        {
            ReceivedUnixNs = 1_772_000_000_000_000_000,
            Delivered = new V1.Delivered { Board = "harbour-1", Record = sound, ClockOffsetNs = -5_000 },
        };
        Assert.Equal(expected.ToByteArray(), arrival.Entry);
        expected.Delivered.Conflicting = true;
        Assert.Equal(expected.ToByteArray(), arrival.ConflictingEntry());
    }

    [Fact]
    public void ConflictingEntry_OfWhatAnotherCollectorHad_KeepsWhoseItIs()
    {
        var entry = new V1.IntakeEntry
        {
            ReceivedUnixNs = 5, MergedUnixNs = 6, Delivered = new V1.Delivered { Board = "harbour-1", Record = Record(new Random(Seed)), Origin = "north" },
        };
        byte[] conflicting = Arrival.Of(entry).ConflictingEntry();
        entry.Delivered.Conflicting = true;
        Assert.Equal(entry.ToByteArray(), conflicting);
    }

    private static (IReadOnlyList<Arrival> Arrivals, string? Wrong) Of(byte[] message) =>
        Arrival.Of("harbour-1", message, clockOffsetNs: -5_000, nowUnixNs: 1_772_000_000_000_000_000);

    /// <summary>The entry as it is read deep inside what an export is made of.</summary>
    private static V1.IntakeEntry Inside(Arrival arrival) =>
        V1.MergePart.Parser.ParseFrom(new V1.MergePart { Entries = { V1.IntakeEntry.Parser.ParseFrom(arrival.Entry) } }.ToByteArray()).Entries[0];

    private static List<V1.Record>? Parsed(byte[] bytes, out List<ByteString> records)
    {
        records = [];
        try
        {
            records.AddRange(V1.Records.Parser.ParseFrom(bytes).Records_);
            return records.Count is 0 or > Arrival.Most ? null : [.. records.Select(r => V1.Record.Parser.ParseFrom(r))];
        }
        catch (InvalidProtocolBufferException)
        {
            return null;
        }
    }

    private static byte[] Some(Random random) => TestBoard.Message(Enumerable.Range(0, random.Next(4)).Select(_ => Record(random))).ToByteArray();

    private static V1.Record Record(Random random) => new()
    {
        Epoch = MessageBytes.Any(random, 16),
        Sequence = (ulong)random.NextInt64(1, long.MaxValue),
        SchemaVersion = (uint)random.Next(4),
        MonotonicNs = random.NextInt64(),
        WallUnixNs = random.NextInt64(),
        BootId = MessageBytes.Any(random, random.Next(2) * 16),
        Payload = MessageBytes.Any(random, 1 + random.Next(200)),
    };
}
