using System.Diagnostics;
using System.Globalization;
using Cardassay.Agent.CapacityProof;
using Cardassay.Trials;

namespace Cardassay.Benchmarks.CapacityProof;

/// <summary>
/// Memory of proofs of simulated cards, each in a process of its own, so that no figure carries what another proof left behind. The full
/// proof of 2 TB takes half an hour and more, so it runs with CARDASSAY_FULL=1 only; without, one of 16 GB stands for it.
/// </summary>
internal static class ProofMemory
{
    private const long TwoTerabytes = 2_000_000_000_000;
    private const double LimitMegabytes = 64;

    public static int Run(string? oneCase)
    {
        if (oneCase is not null)
        {
            return RunOne(oneCase);
        }

        string full = Environment.GetEnvironmentVariable("CARDASSAY_FULL") == "1" ? "full" : "full-16-gb";
        Console.WriteLine("| proof of a simulated card | managed heap before, MB | most during, MB | resident before, MB | most during, MB | finding |\n|---|---|---|---|---|---|");
        bool isGood = true;
        foreach (string name in new[] { "sparse", "sparse-lossy", full, full + "-lossy" })
        {
            var start = new ProcessStartInfo(Environment.ProcessPath!, ["proof-memory", name]) { Environment = { ["DOTNET_gcConcurrent"] = "0" } }; // as the agent is built
            using var child = Process.Start(start)!;
            child.WaitForExit();
            isGood &= child.ExitCode == 0;
        }

        return isGood ? 0 : 1;
    }

    private static int RunOne(string name)
    {
        long lostEvery = name.EndsWith("-lossy", StringComparison.Ordinal) ? 7 : 0;
        string and = lostEvery > 0 ? ", every 7th block lost" : "";
        bool isGood = name.Replace("-lossy", "", StringComparison.Ordinal) switch
        {
            "sparse" => Measure("sparse, 2 TB" + and, sample => SparseProof.Run(
                new BoundlessTarget(Whole(TwoTerabytes), lostEvery), new SparseOptions(), SilentObserver.Context(TwoTerabytes, sample), CancellationToken.None)),
            "full" => Full(TwoTerabytes, lostEvery, and),
            "full-16-gb" => Full(16_000_000_000, lostEvery, and),
            _ => throw new ArgumentException($"No case of proof-memory is called {name}: sparse, full and full-16-gb are, each also with -lossy.", nameof(name)),
        };
        return isGood ? 0 : 1;
    }

    private static bool Full(long bytes, long lostEvery, string and) => Measure(
        string.Create(CultureInfo.InvariantCulture, $"full, {bytes / 1e12:0.###} TB{and}"),
        sample => FullProof.Run(
            new BoundlessTarget(Whole(bytes), lostEvery), new FullOptions { Kind = ProofKind.Full }, null, SilentObserver.Context(bytes, sample), CancellationToken.None));

    private static long Whole(long bytes) => bytes - (bytes % ProofMeasured.BlockBytes);

    private static bool Measure(string what, Func<Action, ProofEnd> prove)
    {
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
        return end.Proof.Complete && resident <= LimitMegabytes;
    }
}
