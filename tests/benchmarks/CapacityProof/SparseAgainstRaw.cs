using System.Diagnostics;
using System.Globalization;
using Cardassay.Agent.BlockIo;
using Cardassay.Agent.CapacityProof;
using Cardassay.Trials;

namespace Cardassay.Benchmarks.CapacityProof;

/// <summary>
/// A sparse proof of 64 GiB (a file with holes behind a loop device): its operations against the optimum, and its time against the same
/// transfers made by a loop that generates and checks nothing.
/// </summary>
internal static class SparseAgainstRaw
{
    private const long SizeBytes = 64L << 30;
    private const int PairCount = 5;

    /// <summary>A run of L = sqrt(C b) blocks and as many multiples, each written once and read once: 2 x (4,096 + 4,096).</summary>
    private static readonly long OptimumOperations = 4 * (long)Math.Sqrt((double)SizeBytes / SectorTag.BlockBytes);

    public static int Run()
    {
        string file = $"/var/tmp/cardassay-benchmark-{Environment.ProcessId}.img";
        using (FileStream image = File.Create(file))
        {
            image.SetLength(SizeBytes);
        }

        string device = Tool.Run("losetup", "--find", "--show", "--direct-io=on", file).Trim();
        try
        {
            (ProofMeasured proof, List<(long, int)> transfers, _) = Proof(device);
            double raw = Raw(device, transfers);
            var ours = new double[PairCount];
            var theirs = new double[PairCount];
            for (int i = 0; i < PairCount; i++)
            {
                ours[i] = Proof(device).Ns;
                theirs[i] = Raw(device, transfers);
            }

            Console.WriteLine("| sparse proof of 64 GiB | |\n|---|---|");
            Line("lattice operations", $"{proof.LatticeOperations}, the optimum block by block is {OptimumOperations}: {(double)proof.LatticeOperations / OptimumOperations:0.00} of it");
            Line("lattice blocks", $"{proof.LatticeBlocks}, each written and read: {2.0 * proof.LatticeBlocks / OptimumOperations:0.000} of the optimum");
            Line("edge probes", $"{proof.EdgeProbes}");
            Line("random probes", $"{proof.RandomProbes}");
            Line("eviction", $"{proof.EvictionBlocks >> 8} writes of 1 MiB");
            Line("transfers in all", $"{transfers.Count}");
            Line("time", $"{Pairs.Median(ours) / 1e9:0.00} s");
            Line("the same transfers raw", $"{Pairs.Median(theirs) / 1e9:0.00} s");
            Line("raw / proof", $"{Pairs.Median(ours.Zip(theirs, (a, b) => b / a)):0.000}");
            return raw > 0 && 2 * proof.LatticeBlocks <= 1.1 * OptimumOperations ? 0 : 1;
        }
        finally
        {
            Tool.Run("losetup", "--detach", device);
            File.Delete(file);
        }
    }

    private static void Line(string what, FormattableString figure) =>
        Console.WriteLine($"| {what} | {figure.ToString(CultureInfo.InvariantCulture)} |");

    private static (ProofMeasured Proof, List<(long, int)> Transfers, double Ns) Proof(string device)
    {
        using var target = new WatchedTarget(DeviceTarget.Open(device, forWriting: true));
        long start = Stopwatch.GetTimestamp();
        ProofEnd end = SparseProof.Run(target, new SparseOptions(), SilentObserver.Context(SizeBytes), CancellationToken.None);
        double ns = Stopwatch.GetElapsedTime(start).TotalNanoseconds;
        return end.Proof is { Complete: true, Finding: ProofFinding.NoneFound }
            ? (end.Proof, target.Transfers, ns)
            : throw new InvalidOperationException($"The proof went wrong: {end.Reason} {end.Proof.Finding}.");
    }

    private static double Raw(string device, List<(long OffsetBytes, int LengthBytes)> transfers)
    {
        using DeviceTarget target = DeviceTarget.Open(device, forWriting: true);
        using var buffer = new AlignedBuffer(1 << 20);
        long start = Stopwatch.GetTimestamp();
        foreach ((long offset, int length) in transfers)
        {
            int errno = length switch
            {
                0 => target.Flush(),
                > 0 => target.Write(offset, buffer.Address, length),
                _ => target.Read(offset, buffer.Address, -length),
            };
            if (errno != 0)
            {
                throw new InvalidOperationException($"Error {errno} at {offset}.");
            }
        }

        return Stopwatch.GetElapsedTime(start).TotalNanoseconds;
    }
}
