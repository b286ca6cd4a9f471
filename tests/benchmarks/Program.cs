using Cardassay.Benchmarks;

string name = args.Length == 1 ? args[0] : "";
switch (name)
{
    case "engine":
        return EngineAgainstC.Run();
    case "sequential":
        return SequentialAgainstDd.Run();
    case "pattern":
        return PatternAgainstCopy.Run();
    default:
        Console.Error.WriteLine("Give one of: engine, sequential, pattern. See tests/benchmarks/README.md.");
        return 2;
}
