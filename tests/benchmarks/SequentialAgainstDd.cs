using System.Diagnostics;
using System.Globalization;
using System.Text.RegularExpressions;
using Cardassay.Agent.BlockIo;
using Cardassay.Agent.Trials;
using Cardassay.Trials;

namespace Cardassay.Benchmarks;

/// <summary>Sequential transfers: the engine against dd with direct I/O, which writes incompressible bytes of the same kind from memory.</summary>
internal static partial class SequentialAgainstDd
{
    private const long SizeBytes = 512 << 20;
    private const int BlockBytes = 512 << 10;
    private const int Operations = (int)(SizeBytes / BlockBytes);

    public static int Run()
    {
        using var device = new ScratchDevice(SizeBytes);
        Console.WriteLine($"Sequential 512 KiB on {device.What}, {Operations} operations, {Pairs.Count} interleaved pairs, against dd with direct I/O.\n");
        Pairs.Head();
        string source = $"/dev/shm/cardassay-source-{Environment.ProcessId}";
        try
        {
            WriteSource(source);
            using var engine = new EngineSide(device.Path);
            var spec = new TrialSpec
            {
                Kind = TrialKind.SequentialRead,
                BlockBytes = BlockBytes,
                StartBytes = 0,
                LengthBytes = SizeBytes,
                Seconds = 60,
                OperationsAtMost = Operations,
                StallLimitNs = 100_000_000,
                Seed = 0,
            };
            Pairs.Compare("sequential read", Operations, SizeBytes, () => engine.Run(spec), () => Dd($"if={device.Path}", "of=/dev/null", "iflag=direct"));
            Pairs.Compare(
                "sequential write",
                Operations,
                SizeBytes,
                () => engine.Run(spec with { Kind = TrialKind.SequentialWrite }),
                () => Dd($"if={source}", $"of={device.Path}", "oflag=direct", "conv=fdatasync,notrunc"));
        }
        finally
        {
            File.Delete(source);
        }

        return 0;
    }

    private static Sample Dd(params string[] arguments)
    {
        string output = Tool.Run("bash", ["-c", "TIMEFORMAT='%U %S'; time LC_ALL=C dd " + string.Join(' ', arguments) + $" bs={BlockBytes} count={Operations}"]);
        Match elapsed = Elapsed().Match(output);
        Match cpu = Cpu().Match(output);
        return new Sample(Nanoseconds(elapsed.Groups[1].Value), Nanoseconds(cpu.Groups[1].Value) + Nanoseconds(cpu.Groups[2].Value));
    }

    private static double Nanoseconds(string seconds) => double.Parse(seconds, CultureInfo.InvariantCulture) * 1e9;

    private static unsafe void WriteSource(string path)
    {
        using var buffer = new AlignedBuffer(BlockBytes);
        using FileStream file = File.Create(path);
        for (long offset = 0; offset < SizeBytes; offset += BlockBytes)
        {
            for (int at = 0; at < BlockBytes; at += SectorTag.BlockBytes)
            {
                SectorTag.Write((byte*)buffer.Address + at, offset + at, 1);
            }

            file.Write(new ReadOnlySpan<byte>((byte*)buffer.Address, BlockBytes));
        }
    }

    [GeneratedRegex(@"copied, ([0-9.e-]+) s")]
    private static partial Regex Elapsed();

    [GeneratedRegex(@"^([0-9.]+) ([0-9.]+)$", RegexOptions.Multiline)]
    private static partial Regex Cpu();
}
