using System.Globalization;
using System.IO.Compression;
using System.IO.Hashing;

namespace Cardassay.Collector.Files;

/// <summary>The content of one member of a zip, from its first byte to its last. Its end is given only when length and checksum are what the directory says.</summary>
internal sealed class MemberStream : Stream
{
    private readonly Stream _packed;
    private readonly Stream _content;
    private readonly ZipMember _member;
    private readonly string _zip;
    private readonly Crc32 _crc = new();
    private long _read;
    private bool _ended;

    internal MemberStream(Stream zip, ZipMember member, string name)
    {
        _member = member;
        _zip = name;
        _packed = new Window(zip, member.At, member.CompressedBytes);
        _content = member.IsDeflated ? new DeflateStream(_packed, CompressionMode.Decompress, leaveOpen: true) : _packed;
    }

    /// <inheritdoc/>
    public override bool CanRead => true;

    /// <inheritdoc/>
    public override bool CanSeek => false;

    /// <inheritdoc/>
    public override bool CanWrite => false;

    /// <inheritdoc/>
    public override long Length => _member.Bytes;

    /// <inheritdoc/>
    public override long Position
    {
        get => _read;
        set => throw new NotSupportedException();
    }

    /// <inheritdoc/>
    public override int Read(byte[] buffer, int offset, int count) => Read(buffer.AsSpan(offset, count));

    /// <inheritdoc/>
    /// <exception cref="EvidenceException">The member is damaged.</exception>
    public override int Read(Span<byte> buffer)
    {
        if (buffer.Length == 0 || _ended)
        {
            return 0;
        }

        int got;
        try
        {
            got = _content.Read(buffer);
        }
        catch (Exception e) when (e is InvalidDataException or EndOfStreamException)
        {
            throw new EvidenceException($"{_member.Name} in {_zip} is damaged: {e.Message}");
        }

        _read += got;
        _crc.Append(buffer[..got]);
        if (_read > _member.Bytes)
        {
            throw new EvidenceException(string.Create(CultureInfo.InvariantCulture, $"{_member.Name} in {_zip} is damaged: it is longer than the {_member.Bytes} bytes the zip states."));
        }

        if (got == 0)
        {
            _ended = true;
            if (_read != _member.Bytes || _crc.GetCurrentHashAsUInt32() != _member.Crc32 || _packed.Position != _member.CompressedBytes)
            {
                throw new EvidenceException($"{_member.Name} in {_zip} is damaged: its length or checksum is not what the zip states.");
            }
        }

        return got;
    }

    /// <inheritdoc/>
    public override void Flush()
    {
    }

    /// <inheritdoc/>
    public override long Seek(long offset, SeekOrigin origin) => throw new NotSupportedException();

    /// <inheritdoc/>
    public override void SetLength(long value) => throw new NotSupportedException();

    /// <inheritdoc/>
    public override void Write(byte[] buffer, int offset, int count) => throw new NotSupportedException();

    /// <inheritdoc/>
    protected override void Dispose(bool disposing)
    {
        if (disposing)
        {
            _content.Dispose();
        }

        base.Dispose(disposing);
    }

    /// <summary>
    /// A part of the zip file. Its last bytes come one at a time: the decompressor asks for no more once it has its end, so that what stands behind
    /// that is not read, and noticed.
    /// </summary>
    private sealed class Window(Stream zip, long at, long bytes) : Stream
    {
        private const int OneByOne = 64;

        public override bool CanRead => true;

        public override bool CanSeek => false;

        public override bool CanWrite => false;

        public override long Length => bytes;

        public override long Position { get; set; }

        public override int Read(byte[] buffer, int offset, int count) => Read(buffer.AsSpan(offset, count));

        public override int Read(Span<byte> buffer)
        {
            zip.Position = at + Position;
            long left = bytes - Position;
            int got = zip.Read(buffer[..(int)Math.Min(buffer.Length, left > OneByOne ? left - OneByOne : Math.Min(left, 1))]);
            Position += got;
            return got;
        }

        public override long Seek(long offset, SeekOrigin origin) => throw new NotSupportedException();

        public override void Flush()
        {
        }

        public override void SetLength(long value) => throw new NotSupportedException();

        public override void Write(byte[] buffer, int offset, int count) => throw new NotSupportedException();
    }
}
