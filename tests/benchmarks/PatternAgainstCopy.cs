using System.Diagnostics;
using System.Globalization;
using Cardassay.Agent.BlockIo;

namespace Cardassay.Benchmarks;

/// <summary>How fast tagged data are made and checked on one core, beside copying the same buffer.</summary>
internal static unsafe class PatternAgainstCopy
{
    private const int BufferBytes = 8 << 20;
    private const int Rounds = 31;

    public static int Run()
    {
        using var buffer = new AlignedBuffer(BufferBytes);
        using var other = new AlignedBuffer(BufferBytes);
        byte* data = (byte*)buffer.Address;
        Console.WriteLine($"{BufferBytes >> 20} MiB, one thread, median of {Rounds} interleaved rounds.\n");
        Console.WriteLine("| what | GB/s |\n|---|---|");
        (string Name, Action Work)[] ways =
        [
            ("make whole blocks (fill, checksums, header)", () => Each(at => SectorTag.Write(data + at, at, 7))),
            ("check whole blocks", () => Each(at => Check(SectorTag.Matches(data + at, at, 7)))),
            ("make and check", () => Each(at =>
            {
                SectorTag.Write(data + at, at, 7);
                Check(SectorTag.Matches(data + at, at, 7));
            })),
            ("stamp filled blocks (what a trial does per write)", () => Each(at => SectorTag.Stamp(data + at, at, 7))),
            ("copy memory", () => Buffer.MemoryCopy(data, (void*)other.Address, BufferBytes, BufferBytes)),
        ];
        var times = new List<double>[ways.Length];
        for (int round = -3; round < Rounds; round++)
        {
            for (int i = 0; i < ways.Length; i++)
            {
                times[i] ??= [];
                long begun = Stopwatch.GetTimestamp();
                ways[i].Work();
                if (round >= 0)
                {
                    times[i].Add(Stopwatch.GetElapsedTime(begun).TotalNanoseconds);
                }
            }
        }

        for (int i = 0; i < ways.Length; i++)
        {
            Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"| {ways[i].Name} | {BufferBytes / Pairs.Median(times[i]):0.0} |"));
        }

        return 0;
    }

    private static void Each(Action<long> work)
    {
        for (long at = 0; at < BufferBytes; at += SectorTag.BlockBytes)
        {
            work(at);
        }
    }

    private static void Check(bool isGood)
    {
        if (!isGood)
        {
            throw new InvalidOperationException("The check does not know what was made.");
        }
    }
}
