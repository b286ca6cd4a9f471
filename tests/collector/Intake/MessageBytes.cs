using Google.Protobuf;

namespace Cardassay.Collector.Tests.Intake;

/// <summary>What messages from boards are made of, and how a fault or somebody with bad intentions would change them.</summary>
internal static class MessageBytes
{
    /// <summary>How many messages a comparison with the library looks at.</summary>
    internal static int Rounds { get; } = Environment.GetEnvironmentVariable("CARDASSAY_FULL") == "1" ? 2_000_000 : 20_000;

    /// <summary>So many bytes of no meaning.</summary>
    internal static ByteString Any(Random random, int length)
    {
        byte[] bytes = new byte[length];
        random.NextBytes(bytes);
        return ByteString.CopyFrom(bytes);
    }

    /// <summary>One to three changes: a byte, a cut, something put in (tags and lengths more often than chance gives them).</summary>
    internal static byte[] Damaged(byte[] sound, Random random)
    {
        List<byte> bytes = [.. sound];
        for (int change = random.Next(3); change >= 0; change--)
        {
            int at = random.Next(bytes.Count + 1);
            switch (random.Next(4))
            {
                case 0 when at < bytes.Count:
                    bytes[at] = (byte)random.Next(256);
                    break;
                case 1 when at < bytes.Count && random.Next(4) == 0:
                    bytes.RemoveRange(at, bytes.Count - at);
                    break;
                case 2:
                    bytes.InsertRange(at, ((byte[][])[[0x0A, 0], [0x3A, 1, 9], [0x52, 0], [0x53, 0x54], [0x10, 0xFF, 1], [0x0D, 1, 2, 3, 4], [0xFF], [0]])[random.Next(8)]);
                    break;
                default:
                    bytes.InsertRange(0, [0x52, 2, 0, 0]);
                    break;
            }
        }

        return [.. bytes];
    }
}
