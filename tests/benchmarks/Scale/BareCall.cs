using System.Buffers;
using System.Buffers.Binary;
using System.Net;
using System.Net.Sockets;
using System.Runtime.InteropServices;
using System.Text;

namespace Cardassay.Benchmarks.Scale;

/// <summary>
/// The delivery stream as bytes on a socket: HTTP/2 without TLS (RFC 9113) and the length-prefixed messages of gRPC, with none of what a
/// client library is for. It costs a tenth of one, so that boards on the collector's own machine take little from it. One caller at a time.
/// </summary>
internal sealed class BareCall : IDisposable
{
    private const int MaxFrame = 16_384; // the least SETTINGS_MAX_FRAME_SIZE allows, which is what every peer takes
    private const int FrameHead = 9;
    private const int GrpcHead = 5;
    private const int OwnWindow = 65_535;
    private const byte Data = 0, Headers = 1, Reset = 3, Settings = 4, Ping = 6, GoAway = 7, WindowUpdate = 8;
    private const byte Ack = 1, EndStream = 1, EndHeaders = 4;

    private readonly Socket _socket = new(SocketType.Stream, ProtocolType.Tcp) { NoDelay = true };
    private readonly ArrayBufferWriter<byte> _out = new();
    private readonly Queue<V1.FromCollector> _messages = new();
    private readonly ArrayBufferWriter<byte> _body = new();
    private readonly byte[] _in = new byte[MaxFrame + FrameHead];
    private int _inCount;
    private long _connectionCredit = OwnWindow;
    private long _streamCredit = OwnWindow;
    private long _initialWindow = OwnWindow;
    private int _unacknowledged;

    private BareCall()
    {
    }

    internal static async Task<BareCall> OpenAsync(IPEndPoint collector)
    {
        var call = new BareCall();
        await call._socket.ConnectAsync(collector);
        call._out.Write("PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n"u8);
        call.Frame(Settings, 0, 0, []);

        // Literal fields without indexing, and three of the static table (RFC 7541, 6.2.2 and appendix A).
        var fields = new ArrayBufferWriter<byte>();
        fields.Write<byte>([0x83, 0x86]); // :method POST, :scheme http
        Text(fields, [0x01], collector.ToString()); // :authority
        Text(fields, [0x04], "/cardassay.v1.Delivery/Deliver"); // :path
        Text(fields, [0x0F, 0x10], "application/grpc"); // content-type
        fields.Write<byte>([0x00, 0x02]);
        fields.Write("te"u8);
        Text(fields, [], "trailers");
        call.Frame(Headers, EndHeaders, 1, fields.WrittenSpan);
        await call.SendAsync();
        return call;
    }

    /// <summary>Sends one message once the collector's windows have room for it.</summary>
    internal async Task WriteAsync(ReadOnlyMemory<byte> message)
    {
        int size = GrpcHead + message.Length;
        while (Math.Min(_connectionCredit, _streamCredit) < size)
        {
            await ReadFrameAsync();
        }

        _connectionCredit -= size;
        _streamCredit -= size;
        await SendAsync(Frames(message));
    }

    /// <summary>The next message.</summary>
    /// <exception cref="InvalidOperationException">The collector ended the stream.</exception>
    internal async Task<V1.FromCollector> ReadAsync()
    {
        V1.FromCollector? message;
        while (!_messages.TryDequeue(out message))
        {
            await ReadFrameAsync();
        }

        return message;
    }

    public void Dispose() => _socket.Dispose();

    private async Task ReadFrameAsync()
    {
        while (_inCount < FrameHead || _inCount < FrameHead + Length())
        {
            int count = await _socket.ReceiveAsync(_in.AsMemory(_inCount));
            _inCount += count > 0 ? count : throw new InvalidOperationException("The collector closed the connection.");
        }

        int size = FrameHead + Length();
        Take(_in[3], _in[4], BinaryPrimitives.ReadInt32BigEndian(_in.AsSpan(5)), _in.AsSpan(FrameHead, size - FrameHead));
        _in.AsSpan(size, _inCount - size).CopyTo(_in);
        _inCount -= size;
        await SendAsync();
    }

    private int Length() => (_in[0] << 16) | (_in[1] << 8) | _in[2];

    private void Take(byte type, byte flags, int stream, ReadOnlySpan<byte> payload)
    {
        switch (type)
        {
            case Data:
                _body.Write(payload);
                TakeMessages();
                _unacknowledged += payload.Length;
                if (_unacknowledged > OwnWindow / 2)
                {
                    Frame(WindowUpdate, 0, 0, Number(_unacknowledged));
                    Frame(WindowUpdate, 0, 1, Number(_unacknowledged));
                    _unacknowledged = 0;
                }

                break;
            case Settings when (flags & Ack) == 0:
                for (; payload.Length >= 6; payload = payload[6..])
                {
                    if (BinaryPrimitives.ReadUInt16BigEndian(payload) == 4) // SETTINGS_INITIAL_WINDOW_SIZE
                    {
                        long window = BinaryPrimitives.ReadUInt32BigEndian(payload[2..]);
                        _streamCredit += window - _initialWindow;
                        _initialWindow = window;
                    }
                }

                Frame(Settings, Ack, 0, []);
                break;
            case Ping when (flags & Ack) == 0:
                Frame(Ping, Ack, 0, payload);
                break;
            case WindowUpdate when stream == 0:
                _connectionCredit += BinaryPrimitives.ReadInt32BigEndian(payload);
                break;
            case WindowUpdate:
                _streamCredit += BinaryPrimitives.ReadInt32BigEndian(payload);
                break;
            case Headers when (flags & EndStream) == 0:
                break;
            case Headers or Reset or GoAway:
                throw new InvalidOperationException($"The collector ended the stream (frame type {type}).");
            default:
                break;
        }
    }

    private void TakeMessages()
    {
        ReadOnlySpan<byte> body = _body.WrittenSpan;
        while (body.Length >= GrpcHead && body.Length - GrpcHead >= BinaryPrimitives.ReadInt32BigEndian(body[1..]))
        {
            int length = BinaryPrimitives.ReadInt32BigEndian(body[1..]);
            _messages.Enqueue(V1.FromCollector.Parser.ParseFrom(body.Slice(GrpcHead, length)));
            body = body[(GrpcHead + length)..];
        }

        byte[] rest = body.ToArray();
        _body.ResetWrittenCount();
        _body.Write(rest);
    }

    private async Task SendAsync()
    {
        for (ReadOnlyMemory<byte> left = _out.WrittenMemory; left.Length > 0;)
        {
            left = left[await _socket.SendAsync(left)..];
        }

        _out.ResetWrittenCount();
    }

    private async Task SendAsync(List<ArraySegment<byte>> parts)
    {
        while (parts.Count > 0)
        {
            int sent = await _socket.SendAsync(parts, SocketFlags.None);
            int whole = 0;
            for (; whole < parts.Count && parts[whole].Count <= sent; whole++)
            {
                sent -= parts[whole].Count;
            }

            parts.RemoveRange(0, whole);
            if (sent > 0)
            {
                parts[0] = parts[0][sent..];
            }
        }
    }

    /// <summary>The message where it lies, with the heads of its frames between its parts.</summary>
    private List<ArraySegment<byte>> Frames(ReadOnlyMemory<byte> message)
    {
        if (!MemoryMarshal.TryGetArray(message, out ArraySegment<byte> left))
        {
            throw new ArgumentException("The message is not in an array.", nameof(message));
        }

        Span<byte> prefix = stackalloc byte[GrpcHead];
        prefix[0] = 0; // not compressed
        BinaryPrimitives.WriteInt32BigEndian(prefix[1..], message.Length);
        var parts = new List<ArraySegment<byte>>();
        for (bool isFirst = true; isFirst || left.Count > 0; isFirst = false)
        {
            ReadOnlySpan<byte> opening = isFirst ? prefix : [];
            ArraySegment<byte> part = left[..Math.Min(left.Count, MaxFrame - opening.Length)];
            left = left[part.Count..];
            byte[] head = new byte[FrameHead + opening.Length];
            WriteHead(head, Data, 0, 1, opening.Length + part.Count);
            opening.CopyTo(head.AsSpan(FrameHead));
            parts.Add(head);
            parts.Add(part);
        }

        return parts;
    }

    private void Frame(byte type, byte flags, int stream, ReadOnlySpan<byte> payload)
    {
        WriteHead(_out.GetSpan(FrameHead), type, flags, stream, payload.Length);
        _out.Advance(FrameHead);
        _out.Write(payload);
    }

    private static void WriteHead(Span<byte> head, byte type, byte flags, int stream, int length)
    {
        BinaryPrimitives.WriteInt32BigEndian(head, length << 8);
        head[3] = type;
        head[4] = flags;
        BinaryPrimitives.WriteInt32BigEndian(head[5..], stream);
    }

    private static byte[] Number(int value)
    {
        byte[] bytes = new byte[sizeof(int)];
        BinaryPrimitives.WriteInt32BigEndian(bytes, value);
        return bytes;
    }

    /// <summary>A field whose value is a text of fewer than 127 bytes, not Huffman coded.</summary>
    private static void Text(ArrayBufferWriter<byte> fields, ReadOnlySpan<byte> name, string value)
    {
        fields.Write(name);
        fields.Write<byte>([(byte)value.Length]);
        fields.Write(Encoding.ASCII.GetBytes(value));
    }
}
