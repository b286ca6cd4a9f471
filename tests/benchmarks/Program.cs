using Cardassay.Benchmarks;
using Cardassay.Benchmarks.Analysis;

string name = args.Length == 1 ? args[0] : "";
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
    default:
        Console.Error.WriteLine("Give one of: engine, sequential, pattern, analysis. See tests/benchmarks/README.md.");
        return 2;
}
