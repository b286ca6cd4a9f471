namespace Cardassay.Demo;

/// <summary>
/// Repeatable chance (SplitMix64: Steele, Lea, Flood, OOPSLA 2014). Each purpose draws from a stream of its own, so that
/// a trial added somewhere leaves every other figure as it was.
/// </summary>
internal sealed class Chance
{
    private const ulong GoldenGamma = 0x9E3779B97F4A7C15;

    private ulong _state;

    /// <summary>The stream of one purpose, named in words ("T-07 night 2 randomRead").</summary>
    public Chance(ulong seed, string purpose)
    {
        // FNV-1a over the characters: string.GetHashCode differs from process to process.
        ulong hash = 0xCBF29CE484222325;
        foreach (char c in purpose)
        {
            hash = (hash ^ c) * 0x100000001B3;
        }

        _state = seed ^ hash;
    }

    /// <summary>64 random bits.</summary>
    public ulong Bits()
    {
        ulong z = _state += GoldenGamma;
        z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9;
        z = (z ^ (z >> 27)) * 0x94D049BB133111EB;
        return z ^ (z >> 31);
    }

    /// <summary>Evenly from 0 up to but not 1.</summary>
    public double Unit() => (Bits() >> 11) * (1.0 / (1UL << 53));

    /// <summary>Evenly from <paramref name="low"/> up to but not <paramref name="high"/>.</summary>
    public double Between(double low, double high) => low + (Unit() * (high - low));

    /// <summary>Evenly from 0 to <paramref name="count"/> - 1.</summary>
    public int Below(int count) => (int)(Unit() * count);

    /// <summary>Bell shaped, mean 0, deviation 1, never beyond 2: one part of a spread that must hold no freak.</summary>
    public double TameBell() => Math.Clamp(Bell.At(Between(0.02, 0.98)), -2, 2);

    /// <summary>
    /// <paramref name="count"/> bell-shaped values in random order, one from each slice of the bell. Their order says
    /// nothing and none of them is a freak, so that a check which raises an alarm on them raises a false one.
    /// </summary>
    public double[] Spread(int count)
    {
        double[] values = new double[count];
        for (int i = 0; i < count; i++)
        {
            values[i] = Bell.At((i + Between(0.2, 0.8)) / count);
        }

        for (int i = count - 1; i > 0; i--)
        {
            int other = Below(i + 1);
            (values[i], values[other]) = (values[other], values[i]);
        }

        return values;
    }

    /// <summary>A random UUID-shaped value.</summary>
    public Guid Guid()
    {
        Span<byte> bytes = stackalloc byte[16];
        System.Buffers.Binary.BinaryPrimitives.WriteUInt64BigEndian(bytes, Bits());
        System.Buffers.Binary.BinaryPrimitives.WriteUInt64BigEndian(bytes[8..], Bits());
        return new Guid(bytes, bigEndian: true);
    }
}
