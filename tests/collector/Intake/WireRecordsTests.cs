using Cardassay.Collector.Intake;
using Google.Protobuf;

namespace Cardassay.Collector.Tests.Intake;

/// <summary>
/// Records are found in the bytes of a message as Google.Protobuf finds them, which is what the tests compare with: in sound messages, and in
/// 20,000 that were damaged (CARDASSAY_FULL=1: 2,000,000). The seed is in the failure message.
/// </summary>
public sealed class WireRecordsTests
{
    private const int Seed = 6_111;

    [Fact]
    public void MoveNext_SoundMessages_FindsWhatTheParserFinds_AndKeepsEveryByte()
    {
        var random = new Random(Seed);
        for (int round = 0; round < 200; round++)
        {
            V1.Records message = Some(random);
            IReadOnlyList<WireRecord> read = ReadAll(message.ToByteArray());
            Assert.Equal(message.Records_.Select(r => r.ToByteString()), read.Select(r => ByteString.CopyFrom(r.Encoded.Span)));
            AssertSame(message, read, $"seed {Seed}, round {round}");
        }
    }

    [Fact]
    public void MoveNext_DamagedMessages_AreTakenAndRefusedAsTheParserDoes()
    {
        var random = new Random(Seed);
        int taken = 0;
        int refused = 0;
        for (int round = 0; round < MessageBytes.Rounds; round++)
        {
            byte[] bytes = MessageBytes.Damaged(Some(random).ToByteArray(), random);
            V1.Records? expected = Parsed(bytes);
            IReadOnlyList<WireRecord>? read = null;
            try
            {
                read = ReadAll(bytes);
            }
            catch (BadRecordException)
            {
                // What the parser says decides below.
            }

            string where = $"seed {Seed}, round {round}: {Convert.ToHexString(bytes)}";
            Assert.True((expected is null) == (read is null), $"{where}: {(expected is null ? "only the parser refuses it" : "only the parser takes it")}");
            if (expected is null)
            {
                refused++;
                continue;
            }

            taken++;
            AssertSame(expected, read!, where);
        }

        Assert.True(taken > MessageBytes.Rounds / 20 && refused > MessageBytes.Rounds / 20, $"{taken} taken, {refused} refused: one side was hardly tried");
    }

    /// <summary>What is taken becomes part of an entry, and a log with an entry that the library refuses could not be projected.</summary>
    [Fact]
    public void MoveNext_GroupsNestedEverDeeper_TakesNoneThatCannotBeReadWithinAnEntry()
    {
        int taken = 0;
        for (int depth = 1; depth <= 110; depth++)
        {
            byte[] record = [.. Record(new Random(Seed)).ToByteArray(), .. Enumerable.Repeat((byte)0x53, depth), .. Enumerable.Repeat((byte)0x54, depth)];
            try
            {
                ReadAll(Field(V1.Records.Records_FieldNumber, record));
            }
            catch (BadRecordException)
            {
                continue;
            }

            taken++;
            byte[] entry = Field(V1.IntakeEntry.DeliveredFieldNumber, Field(V1.Delivered.RecordFieldNumber, record));
            Assert.NotNull(V1.IntakeEntry.Parser.ParseFrom(entry).Delivered.Record);
        }

        Assert.Equal(90, taken);
    }

    [Fact]
    public void Entry_OfARecordAsItCame_IsTheEntryTheEncoderWrites()
    {
        V1.Record sound = Record(new Random(Seed));
        (sound.Epoch, sound.BootId, sound.Payload, sound.Sequence) =
            (ByteString.CopyFrom(new byte[16]), ByteString.CopyFrom(new byte[16]), ByteString.CopyFrom([1, 2, 3]), 7);
        using Arrivals arrivals = Arrivals.Of("harbour-1", new V1.Records { Records_ = { sound } }.ToByteArray(), clockOffsetNs: -5_000, nowUnixNs: 1_772_000_000_000_000_000);
        byte[] expected = new V1.IntakeEntry
        {
            ReceivedUnixNs = 1_772_000_000_000_000_000,
            Delivered = new V1.Delivered { Board = "harbour-1", Record = sound, ClockOffsetNs = -5_000 },
        }.ToByteArray();
        Assert.Equal(1, arrivals.Count);
        Assert.Equal(expected, arrivals.Entries(0, 1)[0].ToArray());
        V1.IntakeEntry marked = V1.IntakeEntry.Parser.ParseFrom(expected);
        marked.Delivered.Conflicting = true;
        Assert.Equal(marked.ToByteArray(), arrivals.ConflictingEntry(0));
    }

    private static List<WireRecord> ReadAll(byte[] message)
    {
        var found = new List<WireRecord>();
        for (var records = new WireRecords(message); records.MoveNext();)
        {
            found.Add(records.Current);
        }

        return found;
    }

    private static byte[] Field(int number, byte[] value)
    {
        byte[] bytes = new byte[value.Length + 10];
        var writer = new WireWriter(bytes);
        writer.Bytes(number, value);
        return bytes[..writer.Written];
    }

    private static V1.Records? Parsed(byte[] bytes)
    {
        try
        {
            return V1.Records.Parser.ParseFrom(bytes);
        }
        catch (InvalidProtocolBufferException)
        {
            return null;
        }
    }

    private static void AssertSame(V1.Records expected, IReadOnlyList<WireRecord> read, string where)
    {
        Assert.True(expected.Records_.Count == read.Count, where);
        for (int i = 0; i < read.Count; i++)
        {
            V1.Record record = expected.Records_[i];
            Assert.True(
                record.Epoch.Span.SequenceEqual(read[i].Epoch.Span) && record.Sequence == read[i].Sequence
                    && record.BootId.Span.SequenceEqual(read[i].BootId.Span) && record.Payload.Span.SequenceEqual(read[i].Payload.Span),
                where);
        }
    }

    private static V1.Records Some(Random random) => new() { Records_ = { Enumerable.Range(0, random.Next(4)).Select(_ => Record(random)) } };

    private static V1.Record Record(Random random) => new()
    {
        Epoch = MessageBytes.Any(random, 16),
        Sequence = (ulong)random.NextInt64(),
        SchemaVersion = (uint)random.Next(4),
        MonotonicNs = random.NextInt64(),
        WallUnixNs = random.NextInt64(),
        BootId = MessageBytes.Any(random, random.Next(2) * 16),
        Payload = MessageBytes.Any(random, random.Next(200)),
    };
}
