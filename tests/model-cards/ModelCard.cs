using Cardassay.Agent.BlockIo;
using Cardassay.Agent.Conditions;
using Cardassay.ModelCards.Tests.Models;
using Cardassay.Trials;

namespace Cardassay.ModelCards.Tests;

/// <summary>
/// A card that keeps what is written to it, as the few words a tagged block follows from, and takes the time its model says. It is also
/// what the board can tell of it: counters that count each transfer once.
/// </summary>
internal sealed unsafe class ModelCard(CardModel model, long size = ModelCard.Size) : IBlockTarget, IConditionsSource
{
    /// <summary>4 GiB.</summary>
    public const long Size = 4L << 30;

    private const int MostFills = 4096;

    private const int Block = SectorTag.BlockBytes;
    private const int Sector = SectorTag.SectorBytes;

    private readonly ulong[] _nonces = new ulong[size / Block];
    private readonly ulong[] _keys = new ulong[size / Block];
    private readonly Dictionary<ulong, byte[]> _fills = [];
    private long _reads, _readBytes, _writes, _writtenBytes;

    public ModelClock Clock { get; } = new();

    public TargetKind Kind => TargetKind.Device;

    public string Path => "model card";

    public long SizeBytes => size;

    public int LogicalBlockBytes => Sector;

    public bool CanWrite => true;

    public bool IsFile => false;

    public int Read(long offsetBytes, nint buffer, int lengthBytes)
    {
        Clock.Serve(at => model.ReadNs(at, offsetBytes, lengthBytes));
        Interlocked.Increment(ref _reads);
        Interlocked.Add(ref _readBytes, lengthBytes);
        for (int at = 0; at < lengthBytes; at += Block)
        {
            long block = (offsetBytes + at) / Block;
            byte* content = (byte*)buffer + at;
            if (_nonces[block] == 0)
            {
                new Span<byte>(content, Block).Clear();
            }
            else
            {
                Fill(_keys[block]).CopyTo(new Span<byte>(content, Block));
                SectorTag.Stamp(content, offsetBytes + at, _nonces[block]);
            }
        }

        return 0;
    }

    public int Write(long offsetBytes, nint buffer, int lengthBytes)
    {
        Clock.Serve(at => model.WriteNs(at, offsetBytes, lengthBytes));
        Interlocked.Increment(ref _writes);
        Interlocked.Add(ref _writtenBytes, lengthBytes);
        for (int at = 0; at < lengthBytes; at += Block)
        {
            byte* content = (byte*)buffer + at;
            if (!SectorTag.TryReadHeader(content, out long lba, out ulong nonce) || lba * Sector != offsetBytes + at)
            {
                throw new InvalidOperationException("What is written is no block for this place.");
            }

            (_nonces[(offsetBytes + at) / Block], _keys[(offsetBytes + at) / Block]) = (nonce, ((ulong*)content)[3]);
        }

        return 0;
    }

    /// <summary>What follows from a fill key; trials use few, so that the last ones are kept.</summary>
    private byte[] Fill(ulong key)
    {
        lock (_fills)
        {
            if (_fills.TryGetValue(key, out byte[]? known))
            {
                return known;
            }

            var fill = new byte[Block];
            fixed (byte* at = fill)
            {
                SectorTag.Fill(at, key);
            }

            if (_fills.Count == MostFills)
            {
                _fills.Clear();
            }

            _fills.Add(key, fill);
            return fill;
        }
    }

    public int Flush()
    {
        Clock.Serve(model.FlushNs);
        return 0;
    }

    public int DropExtension() => 0;

    public void Abandon() => throw new InvalidOperationException("A model card always answers.");

    public bool IsGone() => false;

    public void Dispose()
    {
    }

    public Trials.Conditions Sample() => new()
    {
        BusMode = "sd uhs SDR104", BusWidthBits = 4, ClockHz = 208_000_000, ActualClockHz = 208_000_000, LinkErrors = 0, UnderVoltage = false, Throttled = false,
        Governor = "performance", CpuKHz = 1_500_000, CpuMaxKHz = 1_500_000, Processors = 4, LoadAverage = 1, WriteCache = "write through",
        SectorsRead = _readBytes / Sector, SectorsWritten = _writtenBytes / Sector, ReadsCompleted = _reads, WritesCompleted = _writes,
    };
}
