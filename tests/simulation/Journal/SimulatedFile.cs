namespace Cardassay.Simulation.Tests.Journal;

/// <summary>A file of a <see cref="SimulatedDisk"/>: what processes see (the cache) and what the medium would keep through a power cut.</summary>
internal sealed class SimulatedFile
{
    private byte[] _cache = [];
    private byte[] _medium = [];
    private int _length;
    private int _mediumLength;

    /// <summary>Writes (and truncations: no bytes) since the last fsync, in order.</summary>
    private readonly List<(int Offset, byte[]? Bytes)> _dirty = [];

    public int Length => _length;

    public ReadOnlySpan<byte> Cache => _cache.AsSpan(0, _length);

    public static SimulatedFile Holding(ReadOnlySpan<byte> content)
    {
        var file = new SimulatedFile();
        Put(ref file._cache, ref file._length, 0, content);
        file.StoreAll();
        return file;
    }

    public void Write(int offset, ReadOnlySpan<byte> bytes)
    {
        Put(ref _cache, ref _length, offset, bytes);
        _dirty.Add((offset, bytes.ToArray()));
    }

    public void Truncate(int length)
    {
        Cut(_cache, ref _length, length);
        _dirty.Add((length, null));
    }

    /// <summary>A successful fsync.</summary>
    public void Store()
    {
        foreach ((int offset, byte[]? bytes) in _dirty)
        {
            Apply(offset, bytes);
        }

        _dirty.Clear();
    }

    /// <summary>A failed fsync as Linux does it: nothing reached the medium, and the pages count as clean.</summary>
    public void FailToStore() => _dirty.Clear();

    /// <summary>Drops clean pages: what is read next is the medium's, with what is still dirty on top.</summary>
    public void ForgetCache()
    {
        _cache = _medium.AsSpan(0, _mediumLength).ToArray();
        _length = _mediumLength;
        foreach ((int offset, byte[]? bytes) in _dirty)
        {
            if (bytes is null)
            {
                Cut(_cache, ref _length, offset);
            }
            else
            {
                Put(ref _cache, ref _length, offset, bytes);
            }
        }
    }

    /// <summary>
    /// The power goes. Of every dirty write each sector reaches the medium or not, in any order; the length may have grown although
    /// the data did not arrive, and then the hole holds zeros, noise or somebody's old sectors.
    /// </summary>
    public void CutPower(Random random, int sectorBytes, ReadOnlySpan<byte> oldData)
    {
        double share = random.Next(4) switch { 0 => 0, 1 => 1, _ => random.NextDouble() };
        int durableLength = _mediumLength;
        int longest = durableLength;
        List<(int Offset, byte[]? Bytes)> survivors = [];
        foreach ((int offset, byte[]? bytes) in _dirty)
        {
            if (bytes is null)
            {
                if (random.NextDouble() < share)
                {
                    survivors.Add((offset, null));
                }

                continue;
            }

            longest = Math.Max(longest, offset + bytes.Length);
            for (int at = 0; at < bytes.Length;)
            {
                int count = Math.Min(bytes.Length - at, sectorBytes - ((offset + at) % sectorBytes));
                if (random.NextDouble() < share)
                {
                    survivors.Add((offset + at, bytes[at..(at + count)]));
                }

                at += count;
            }
        }

        if (longest > durableLength && random.Next(2) == 0)
        {
            FillHole(random, durableLength, longest, oldData);
        }

        foreach ((int offset, byte[]? bytes) in survivors)
        {
            Apply(offset, bytes);
        }

        _dirty.Clear();
        _cache = _medium.AsSpan(0, _mediumLength).ToArray();
        _length = _mediumLength;
    }

    public void FlipBit(long bit)
    {
        _cache[bit / 8] ^= (byte)(1 << (int)(bit % 8));
        _medium[bit / 8] ^= (byte)(1 << (int)(bit % 8));
    }

    private void FillHole(Random random, int from, int to, ReadOnlySpan<byte> oldData)
    {
        byte[] filler = new byte[to - from];
        int kind = random.Next(3);
        if (kind == 1)
        {
            random.NextBytes(filler);
        }
        else if (kind == 2 && oldData.Length > 0)
        {
            int begin = random.Next(oldData.Length);
            oldData.Slice(begin, Math.Min(filler.Length, oldData.Length - begin)).CopyTo(filler);
        }

        Put(ref _medium, ref _mediumLength, from, filler);
    }

    private void StoreAll()
    {
        _medium = [.. Cache];
        _mediumLength = _length;
        _dirty.Clear();
    }

    private void Apply(int offset, byte[]? bytes)
    {
        if (bytes is null)
        {
            Cut(_medium, ref _mediumLength, offset);
        }
        else
        {
            Put(ref _medium, ref _mediumLength, offset, bytes);
        }
    }

    private static void Put(ref byte[] target, ref int length, int offset, ReadOnlySpan<byte> bytes)
    {
        if (target.Length < offset + bytes.Length)
        {
            Array.Resize(ref target, Math.Max(offset + bytes.Length, target.Length * 2));
        }

        bytes.CopyTo(target.AsSpan(offset));
        length = Math.Max(length, offset + bytes.Length);
    }

    private static void Cut(byte[] target, ref int length, int to)
    {
        if (to < length)
        {
            target.AsSpan(to, length - to).Clear();
            length = to;
        }
    }
}
