using System.Buffers;
using Cardassay.Collector.Intake;
using Google.Protobuf;

namespace Cardassay.Collector.Tests.Intake;

/// <summary>
/// A message from a board is what Google.Protobuf reads out of the same bytes, which is what the tests compare with, and is refused where that
/// refuses it. The seed is in the failure message.
/// </summary>
public sealed class BoardMessageTests
{
    private const int Seed = 8_147;

    [Fact]
    public void Read_SoundAndDamagedMessages_IsWhatTheParserReads()
    {
        var random = new Random(Seed);
        var seen = new Dictionary<string, int>();
        for (int round = 0; round < MessageBytes.Rounds; round++)
        {
            byte[] sound = Some(random).ToByteArray();
            byte[] bytes = random.Next(3) == 0 ? sound : MessageBytes.Damaged(sound, random);
            string expected = Parsed(bytes);
            string read = Read(bytes, random);
            Assert.True(expected == read, $"seed {Seed}, round {round}: {Convert.ToHexString(bytes)} is {expected}, read as {read}");
            string kind = expected[..expected.IndexOf(' ', StringComparison.Ordinal)];
            seen[kind] = seen.GetValueOrDefault(kind) + 1;
        }

        foreach (string kind in (string[])["Greeting", "Records", "Heartbeat", "None", "refused"])
        {
            Assert.True(seen.GetValueOrDefault(kind) > MessageBytes.Rounds / 100, $"{kind} was hardly tried");
        }
    }

    [Fact]
    public void Dispose_GivesTheBufferBackOnce()
    {
        byte[] bytes = new V1.FromBoard { Records = ByteString.CopyFrom(new byte[1000]) }.ToByteArray();
        BoardMessage first = BoardMessage.Read(new ReadOnlySequence<byte>(bytes));
        first.Dispose();
        first.Dispose();
        using BoardMessage second = BoardMessage.Read(new ReadOnlySequence<byte>(bytes));
        using BoardMessage third = BoardMessage.Read(new ReadOnlySequence<byte>(bytes));
        Assert.True(first.Records.IsEmpty);
        Assert.False(second.Records.Span.Overlaps(third.Records.Span));
    }

    private static V1.FromBoard Some(Random random) => random.Next(6) switch
    {
        0 => new V1.FromBoard { Heartbeat = new V1.Heartbeat { WallUnixNs = random.NextInt64() } },
        1 => new V1.FromBoard { Greeting = new V1.Greeting { BoardName = "harbour-1", ProtocolHighest = (uint)random.Next(3), BootId = MessageBytes.Any(random, 16) } },
        2 => new V1.FromBoard(),
        _ => new V1.FromBoard { Records = MessageBytes.Any(random, random.Next(300)) },
    };

    private static string Parsed(byte[] bytes)
    {
        try
        {
            V1.FromBoard message = V1.FromBoard.Parser.ParseFrom(bytes);
            return message.KindCase == V1.FromBoard.KindOneofCase.Records ? Text(message.Records.Span) : Text(message);
        }
        catch (InvalidProtocolBufferException)
        {
            return "refused ";
        }
    }

    private static string Read(byte[] bytes, Random random)
    {
        try
        {
            using BoardMessage message = BoardMessage.Read(InPieces(bytes, random));
            return message.Other is { } other ? Text(other) : Text(message.Records.Span);
        }
        catch (InvalidProtocolBufferException)
        {
            return "refused ";
        }
    }

    private static string Text(V1.FromBoard message) => $"{message.KindCase} {Convert.ToHexString(message.ToByteArray())}";

    private static string Text(ReadOnlySpan<byte> records) => $"Records {Convert.ToHexString(records)}";

    /// <summary>As a connection hands it over: in two pieces.</summary>
    private static ReadOnlySequence<byte> InPieces(byte[] bytes, Random random)
    {
        int cut = random.Next(bytes.Length + 1);
        var first = new Piece(bytes.AsMemory(0, cut), null);
        var last = new Piece(bytes.AsMemory(cut), first);
        return new ReadOnlySequence<byte>(first, 0, last, bytes.Length - cut);
    }

    private sealed class Piece : ReadOnlySequenceSegment<byte>
    {
        internal Piece(ReadOnlyMemory<byte> bytes, Piece? before)
        {
            Memory = bytes;
            if (before is not null)
            {
                RunningIndex = before.RunningIndex + before.Memory.Length;
                before.Next = this;
            }
        }
    }
}
