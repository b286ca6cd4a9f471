using System.Buffers.Binary;
using System.Net.Sockets;

namespace Cardassay.EmulatedBoard.Harness;

/// <summary>
/// One client of a network block device: the fixed newstyle handshake and simple replies. Source of every number: the NBD
/// project's protocol description, doc/proto.md.
/// </summary>
public sealed class NbdSession(TcpClient client, LyingStore store)
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

    private readonly NetworkStream stream = client.GetStream();

    /// <summary>Serves the client until it leaves.</summary>
    public async Task RunAsync(CancellationToken cancellation)
    {
        using (client)
        {
            try
            {
                if (await GreetAsync(cancellation))
                {
                    while (await AnswerAsync(cancellation))
                    {
                    }
                }
            }
            catch (Exception e) when (e is IOException or OperationCanceledException or ObjectDisposedException)
            {
                // The emulator ended, as on a power cut.
            }
        }
    }

    private async Task<bool> GreetAsync(CancellationToken cancellation)
    {
        byte[] greeting = new byte[18];
        BinaryPrimitives.WriteUInt64BigEndian(greeting, ServerMagic);
        BinaryPrimitives.WriteUInt64BigEndian(greeting.AsSpan(8), OptionMagic);
        BinaryPrimitives.WriteUInt16BigEndian(greeting.AsSpan(16), FixedNewstyleNoZeroes);
        await stream.WriteAsync(greeting, cancellation);
        bool noZeroes = (await ReadAsync(4, cancellation))[3] is 2 or 3;
        while (true)
        {
            byte[] head = await ReadAsync(16, cancellation);
            uint option = BinaryPrimitives.ReadUInt32BigEndian(head.AsSpan(8));
            await ReadAsync((int)BinaryPrimitives.ReadUInt32BigEndian(head.AsSpan(12)), cancellation);
            switch (option)
            {
                case 1: // EXPORT_NAME
                    await stream.WriteAsync(Export(noZeroes ? 0 : 124), cancellation);
                    return true;
                case 2: // ABORT
                    await ReplyAsync(option, ReplyAck, [], cancellation);
                    return false;
                case 6 or 7: // INFO, GO
                    await ReplyAsync(option, ReplyInfo, [0, 0, .. Export(0)], cancellation);
                    await ReplyAsync(option, ReplyAck, [], cancellation);
                    if (option == 7)
                    {
                        return true;
                    }

                    break;
                default:
                    await ReplyAsync(option, ReplyUnsupported, [], cancellation);
                    break;
            }
        }
    }

    private async Task<bool> AnswerAsync(CancellationToken cancellation)
    {
        byte[] head = await ReadAsync(28, cancellation);
        if (BinaryPrimitives.ReadUInt32BigEndian(head) != RequestMagic)
        {
            return false;
        }

        int type = BinaryPrimitives.ReadUInt16BigEndian(head.AsSpan(6));
        long offset = BinaryPrimitives.ReadInt64BigEndian(head.AsSpan(16));
        int length = BinaryPrimitives.ReadInt32BigEndian(head.AsSpan(24));
        byte[] reply = new byte[16 + (type == 0 ? length : 0)];
        BinaryPrimitives.WriteUInt32BigEndian(reply, ReplyMagic);
        head.AsSpan(8, 8).CopyTo(reply.AsSpan(8));
        switch (type)
        {
            case 0: // READ
                store.Read(offset, reply.AsSpan(16));
                break;
            case 1: // WRITE
                store.Write(offset, await ReadAsync(length, cancellation));
                break;
            case 2: // DISC
                return false;
            case 3: // FLUSH
                break;
            default:
                BinaryPrimitives.WriteUInt32BigEndian(reply.AsSpan(4), InvalidArgument);
                break;
        }

        await stream.WriteAsync(reply, cancellation);
        return true;
    }

    private byte[] Export(int zeroes)
    {
        byte[] export = new byte[10 + zeroes];
        BinaryPrimitives.WriteInt64BigEndian(export, store.ClaimedBytes);
        BinaryPrimitives.WriteUInt16BigEndian(export.AsSpan(8), HasFlagsSendFlush);
        return export;
    }

    private async Task ReplyAsync(uint option, uint type, byte[] data, CancellationToken cancellation)
    {
        byte[] reply = new byte[20 + data.Length];
        BinaryPrimitives.WriteUInt64BigEndian(reply, OptionReplyMagic);
        BinaryPrimitives.WriteUInt32BigEndian(reply.AsSpan(8), option);
        BinaryPrimitives.WriteUInt32BigEndian(reply.AsSpan(12), type);
        BinaryPrimitives.WriteInt32BigEndian(reply.AsSpan(16), data.Length);
        data.CopyTo(reply, 20);
        await stream.WriteAsync(reply, cancellation);
    }

    private async Task<byte[]> ReadAsync(int length, CancellationToken cancellation)
    {
        byte[] bytes = new byte[length];
        await stream.ReadExactlyAsync(bytes, cancellation);
        return bytes;
    }
}
