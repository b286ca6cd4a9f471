using System.Diagnostics;
using System.Globalization;
using System.Text.RegularExpressions;
using Cardassay.Agent.BlockIo;
using Cardassay.Agent.CapacityProof;
using Cardassay.Agent.Trials;
using Cardassay.Trials;

namespace Cardassay.Benchmarks.CapacityProof;

/// <summary>
/// The write and the read phase of a full proof against dd with direct I/O, transfers of the same size and the very same bytes. What the
/// proof does beyond, generating and checking every byte, must cost no time.
/// </summary>
internal static partial class FullAgainstDd
{
    private const long SizeBytes = 1L << 30;
    private const int PairCount = 9;

    private static readonly FullOptions Options = new() { Kind = ProofKind.Full, EvictionBytes = 0 };

    public static int Run()
    {
        Console.WriteLine($"Full proof of 1 GiB, {PairCount} interleaved pairs, against dd with direct I/O.\n");
        Console.WriteLine("| device | phase | rate, proof / dd | proof MB/s | dd MB/s |\n|---|---|---|---|---|");
        using (var memory = new ScratchDevice(SizeBytes))
        {
            Compare(memory.Path, memory.What);
        }

        string file = $"/var/tmp/cardassay-benchmark-{Environment.ProcessId}.img";
        Tool.Run("dd", "if=/dev/zero", $"of={file}", "bs=1M", $"count={SizeBytes >> 20}", "conv=fsync");
        string loop = Tool.Run("losetup", "--find", "--show", "--direct-io=on", file).Trim();
        try
        {
            Compare(loop, "loop device on a file");
        }
        finally
        {
            Tool.Run("losetup", "--detach", loop);
            File.Delete(file);
        }

        return 0;
    }

    private static void Compare(string device, string what)
    {
        string source = $"/dev/shm/cardassay-source-{Environment.ProcessId}";
        var ours = new (double WriteNs, double ReadNs)[PairCount];
        var theirs = new (double WriteNs, double ReadNs)[PairCount];
        try
        {
            WriteSource(source);
            Proof(device);
            Dd(device, source);
            for (int i = 0; i < PairCount; i++)
            {
                if (i % 2 == 0)
                {
                    ours[i] = Proof(device);
                    theirs[i] = Dd(device, source);
                }
                else
                {
                    theirs[i] = Dd(device, source);
                    ours[i] = Proof(device);
                }
            }
        }
        finally
        {
            File.Delete(source);
        }

        Line(what, "write and flush", [.. ours.Select(o => o.WriteNs)], [.. theirs.Select(t => t.WriteNs)]);
        Line(what, "read and check", [.. ours.Select(o => o.ReadNs)], [.. theirs.Select(t => t.ReadNs)]);
    }

    private static void Line(string device, string phase, double[] ours, double[] theirs) => Console.WriteLine(string.Create(
        CultureInfo.InvariantCulture,
        $"| {device} | {phase} | {Pairs.Median(ours.Zip(theirs, (a, b) => b / a)):0.000} | {SizeBytes / Pairs.Median(ours) * 1e3:0} | {SizeBytes / Pairs.Median(theirs) * 1e3:0} |"));

    private static (double WriteNs, double ReadNs) Proof(string device)
    {
        using var target = new WatchedTarget(DeviceTarget.Open(device, forWriting: true));
        long start = Stopwatch.GetTimestamp();
        ProofEnd end = FullProof.Run(target, Options, null, SilentObserver.Context(SizeBytes), CancellationToken.None);
        long stop = Stopwatch.GetTimestamp();
        if (end.Proof is not { Complete: true, Finding: ProofFinding.NoneFound } || end.Proof.BlocksRead * SectorTag.BlockBytes != SizeBytes)
        {
            throw new InvalidOperationException($"The proof went wrong: {end.Reason} {end.Proof.Finding}.");
        }

        return (Stopwatch.GetElapsedTime(start, target.LastFlush).TotalNanoseconds, Stopwatch.GetElapsedTime(target.FirstRead, stop).TotalNanoseconds);
    }

    private static (double WriteNs, double ReadNs) Dd(string device, string source) => (
        Dd($"if={source}", $"of={device}", "oflag=direct", "conv=fdatasync,notrunc"),
        Dd($"if={device}", "of=/dev/null", "iflag=direct"));

    private static double Dd(params string[] arguments)
    {
        string output = Tool.Run("env", ["LC_ALL=C", "dd", .. arguments, $"bs={Options.TransferBytes}", $"count={SizeBytes / Options.TransferBytes}"]);
        return double.Parse(Elapsed().Match(output).Groups[1].Value, CultureInfo.InvariantCulture) * 1e9;
    }

    /// <summary>The bytes the proof writes.</summary>
    private static unsafe void WriteSource(string path)
    {
        ulong nonce = SplitSeed.NonceOf(SilentObserver.Context(SizeBytes).Seed);
        using var buffer = new AlignedBuffer(Options.TransferBytes);
        using FileStream file = File.Create(path);
        for (long offset = 0; offset < SizeBytes; offset += Options.TransferBytes)
        {
            for (int at = 0; at < Options.TransferBytes; at += SectorTag.BlockBytes)
            {
                SectorTag.Write((byte*)buffer.Address + at, offset + at, nonce);
            }

            file.Write(new ReadOnlySpan<byte>((byte*)buffer.Address, Options.TransferBytes));
        }
    }

    [GeneratedRegex(@"copied, ([0-9.e-]+) s")]
    private static partial Regex Elapsed();
}
