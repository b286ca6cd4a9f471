using System.Globalization;
using Cardassay.Agent.CapacityProof;
using Cardassay.Trials;

namespace Cardassay.Benchmarks.CapacityProof;

/// <summary>
/// Memory of proofs of simulated cards. The full proof of 2 TB takes twenty minutes and more, so it runs with CARDASSAY_FULL=1 only; without,
/// one of 16 GB stands for it.
/// </summary>
internal static class ProofMemory
{
    private const long TwoTerabytes = 2_000_000_000_000;
    private const double LimitMegabytes = 64;

    public static int Run()
    {
        long full = Environment.GetEnvironmentVariable("CARDASSAY_FULL") == "1" ? TwoTerabytes : 16_000_000_000;
        Console.WriteLine("| proof of a simulated card | managed heap before, MB | most during, MB | resident before, MB | most during, MB | finding |\n|---|---|---|---|---|---|");
        bool isGood = Sparse("sparse, 2 TB", 0) & Sparse("sparse, 2 TB, every 7th block lost", 7)
            & Full(full, 0, "") & Full(full, 7, ", every 7th block lost");
        return isGood ? 0 : 1;
    }

    private static bool Sparse(string what, long lostEvery) => Measure(what, sample =>
        SparseProof.Run(new BoundlessTarget(Whole(TwoTerabytes), lostEvery), new SparseOptions(), SilentObserver.Context(TwoTerabytes, sample), CancellationToken.None));

    private static bool Full(long bytes, long lostEvery, string and) => Measure(
        string.Create(CultureInfo.InvariantCulture, $"full, {bytes / 1e12:0.###} TB{and}"),
        sample => FullProof.Run(
            new BoundlessTarget(Whole(bytes), lostEvery), new FullOptions { Kind = ProofKind.Full }, null, SilentObserver.Context(bytes, sample), CancellationToken.None));

    private static long Whole(long bytes) => bytes - (bytes % ProofMeasured.BlockBytes);

    private static bool Measure(string what, Func<Action, ProofEnd> prove)
    {
        GC.Collect();
        GC.WaitForPendingFinalizers();
        double heapBefore = GC.GetTotalMemory(forceFullCollection: true) / 1e6;
        double residentBefore = Environment.WorkingSet / 1e6;
        double heap = heapBefore;
        double resident = residentBefore;
        void Sample()
        {
            heap = Math.Max(heap, GC.GetTotalMemory(forceFullCollection: false) / 1e6);
            resident = Math.Max(resident, Environment.WorkingSet / 1e6);
        }

        ProofEnd end = prove(Sample);
        Sample();
        Console.WriteLine(string.Create(
            CultureInfo.InvariantCulture, $"| {what} | {heapBefore:0.0} | {heap:0.0} | {residentBefore:0.0} | {resident:0.0} | {end.Proof.Finding} |"));
        return end.Proof.Complete && resident - residentBefore <= LimitMegabytes;
    }
}
