using Cardassay.Benchmarks;
using Cardassay.Benchmarks.Analysis;
using Cardassay.Benchmarks.CapacityProof;

string name = args.Length > 0 ? args[0] : "";
switch (name)
{
    case "engine":
        return EngineAgainstC.Run();
    case "sequential":
        return SequentialAgainstDd.Run();
    case "pattern":
        return PatternAgainstCopy.Run();
    case "analysis":
        return AnalysisBenchmark.Run();
    case "full-proof":
        return FullAgainstDd.Run();
    case "sparse-proof":
        return SparseAgainstRaw.Run();
    case "proof-memory":
        return ProofMemory.Run(args.Length > 1 ? args[1] : null);
    default:
        Console.Error.WriteLine("Give one of: engine, sequential, pattern, analysis, full-proof, sparse-proof, proof-memory. See tests/benchmarks/README.md.");
        return 2;
}
