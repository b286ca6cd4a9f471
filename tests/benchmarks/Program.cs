using Cardassay.Benchmarks;
using Cardassay.Benchmarks.Analysis;
using Cardassay.Benchmarks.CapacityProof;
using Cardassay.Benchmarks.Scale;
using Cardassay.Benchmarks.Report;

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
    case "report":
        return ReportBenchmark.Run();
    case "full-proof":
        return FullAgainstDd.Run();
    case "sparse-proof":
        return SparseAgainstRaw.Run();
    case "proof-memory":
        return ProofMemory.Run(args.Length > 1 ? args[1] : null);
    case "agent-memory" when args.Length is 2 or 3:
        return AgentMemory.Run(args[1], args.Length > 2 ? args[2] : "overnight");
    case "agent-start" when args.Length == 2:
        return AgentStart.Run(args[1]);
    case "boards":
        return await BoardsBenchmark.RunAsync(Number(1, 10));
    case "delivery":
        return await DeliveryBenchmark.RunAsync(Number(1, 10));
    case "apply":
        return ApplyBenchmark.Run(Number(1, 30_000));
    case "connected":
        return await ConnectedBenchmark.RunAsync(Number(1, 20));
    case "decade":
        return DecadeBenchmark.Run(Number(1, 1_000), Number(2, 100_000), withReports: !args.Contains("--without-reports"));
    case "morning":
        return await MorningBenchmark.RunAsync(Number(1, 200), Number(2, 60_000));
    case "held":
        return HeldBenchmark.Run(Number(1, 500), Number(2, 50_000));
    default:
        Console.Error.WriteLine("Give one of: engine, sequential, pattern, analysis, report, full-proof, sparse-proof, proof-memory, agent-memory AGENT [PLAN], agent-start AGENT, boards, delivery, apply, connected, decade, morning, held. See tests/benchmarks/README.md.");
        return 2;
}

int Number(int index, int otherwise) => args.Length > index ? int.Parse(args[index], System.Globalization.CultureInfo.InvariantCulture) : otherwise;
