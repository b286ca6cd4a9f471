using System.Buffers.Binary;
using System.Net.Sockets;

namespace Cardassay.EmulatedBoard.Harness;

/// <summary>
/// One client of a network block device: the fixed newstyle handshake and simple replies. Source of every number: the NBD
/// project's protocol description, doc/proto.md.
/// </summary>
public sealed class NbdSession(Socket client, LyingStore store)
{
    private const ulong ServerMagic = 0x4e42444d41474943; // "NBDMAGIC"
    private const ulong OptionMagic = 0x49484156454f5054; // "IHAVEOPT"
    private const ulong OptionReplyMagic = 0x0003e889045565a9;
    private const uint RequestMagic = 0x25609513;
    private const uint ReplyMagic = 0x67446698;
    private const ushort FixedNewstyleNoZeroes = 3;
    private const ushort HasFlagsSendFlush = 1 | 4;
    private const uint ReplyAck = 1;
    private const uint ReplyInfo = 3;
    private const uint ReplyUnsupported = 0x80000001;
    private const uint InvalidArgument = 22;

    private readonly NetworkStream stream = new(client);
    private readonly byte[] head = new byte[28];
    private byte[] data = new byte[16 + 4096];

    /// <summary>Serves the client until it leaves, on the calling thread.</summary>
    public void Run(CancellationToken cancellation)
    {
        using (client)
        using (cancellation.Register(HangUp))
        {
            try
            {
                if (Greet())
                {
                    while (Answer())
                    {
                    }
                }
            }
            catch (Exception e) when (e is IOException or ObjectDisposedException)
            {
                // The emulator ended, as on a power cut.
            }
        }
    }

    private void HangUp()
    {
        try
        {
            client.Shutdown(SocketShutdown.Both);
        }
        catch (SocketException)
        {
            // The emulator was quicker.
        }
    }

    private bool Greet()
    {
        byte[] greeting = new byte[18];
        BinaryPrimitives.WriteUInt64BigEndian(greeting, ServerMagic);
        BinaryPrimitives.WriteUInt64BigEndian(greeting.AsSpan(8), OptionMagic);
        BinaryPrimitives.WriteUInt16BigEndian(greeting.AsSpan(16), FixedNewstyleNoZeroes);
        stream.Write(greeting);
        bool noZeroes = Read(4)[3] is 2 or 3;
        while (true)
        {
            byte[] asked = Read(16);
            uint option = BinaryPrimitives.ReadUInt32BigEndian(asked.AsSpan(8));
            Read((int)BinaryPrimitives.ReadUInt32BigEndian(asked.AsSpan(12)));
            switch (option)
            {
                case 1: // EXPORT_NAME
                    stream.Write(Export(noZeroes ? 0 : 124));
                    return true;
                case 2: // ABORT
                    Reply(option, ReplyAck, []);
                    return false;
                case 6 or 7: // INFO, GO
                    Reply(option, ReplyInfo, [0, 0, .. Export(0)]);
                    Reply(option, ReplyAck, []);
                    if (option == 7)
                    {
                        return true;
                    }

                    break;
                default:
                    Reply(option, ReplyUnsupported, []);
                    break;
            }
        }
    }

    private bool Answer()
    {
        stream.ReadExactly(head);
        if (BinaryPrimitives.ReadUInt32BigEndian(head) != RequestMagic)
        {
            return false;
        }

        int type = BinaryPrimitives.ReadUInt16BigEndian(head.AsSpan(6));
        long offset = BinaryPrimitives.ReadInt64BigEndian(head.AsSpan(16));
        int length = BinaryPrimitives.ReadInt32BigEndian(head.AsSpan(24));
        if (data.Length < 16 + length)
        {
            data = new byte[16 + length];
        }

        Span<byte> content = data.AsSpan(16, type is 0 or 1 ? length : 0);
        uint error = 0;
        switch (type)
        {
            case 0: // READ
                store.Read(offset, content);
                break;
            case 1: // WRITE
                stream.ReadExactly(content);
                store.Write(offset, content);
                break;
            case 2: // DISC
                return false;
            case 3: // FLUSH
                break;
            default:
                error = InvalidArgument;
                break;
        }

        BinaryPrimitives.WriteUInt32BigEndian(data, ReplyMagic);
        BinaryPrimitives.WriteUInt32BigEndian(data.AsSpan(4), error);
        head.AsSpan(8, 8).CopyTo(data.AsSpan(8));
        stream.Write(data, 0, 16 + (type == 0 ? length : 0));
        return true;
    }

    private byte[] Export(int zeroes)
    {
        byte[] export = new byte[10 + zeroes];
        BinaryPrimitives.WriteInt64BigEndian(export, store.ClaimedBytes);
        BinaryPrimitives.WriteUInt16BigEndian(export.AsSpan(8), HasFlagsSendFlush);
        return export;
    }

    private void Reply(uint option, uint type, byte[] content)
    {
        byte[] reply = new byte[20 + content.Length];
        BinaryPrimitives.WriteUInt64BigEndian(reply, OptionReplyMagic);
        BinaryPrimitives.WriteUInt32BigEndian(reply.AsSpan(8), option);
        BinaryPrimitives.WriteUInt32BigEndian(reply.AsSpan(12), type);
        BinaryPrimitives.WriteInt32BigEndian(reply.AsSpan(16), content.Length);
        content.CopyTo(reply, 20);
        stream.Write(reply);
    }

    private byte[] Read(int length)
    {
        byte[] bytes = new byte[length];
        if (length > 0) // a read of nothing waits for something
        {
            stream.ReadExactly(bytes);
        }

        return bytes;
    }
}
