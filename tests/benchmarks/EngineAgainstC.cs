using System.Globalization;
using Cardassay.Agent.Trials;
using Cardassay.Trials;

namespace Cardassay.Benchmarks;

/// <summary>Random 4 KiB operations: the engine with everything recorded and checked against a bare loop in C on the same device.</summary>
internal static class EngineAgainstC
{
    private const long SizeBytes = 256 << 20;
    private const int Operations = 100_000;
    private const int BlockBytes = 4096;

    public static int Run()
    {
        string program = Compile();
        using var device = new ScratchDevice(SizeBytes);
        Console.WriteLine($"Random 4 KiB on {device.What}, {Operations} operations, {Pairs.Count} interleaved pairs, against a loop in C.\n");
        Pairs.Head();
        foreach ((TrialKind kind, string letter) in new[] { (TrialKind.RandomRead, "r"), (TrialKind.RandomWrite, "w") })
        {
            foreach (int depth in new[] { 1, 8 })
            {
                // A new engine each time: what the loop in C wrote is no tagged data.
                using var engine = new EngineSide(device.Path);
                var spec = new TrialSpec
                {
                    Kind = kind,
                    BlockBytes = BlockBytes,
                    QueueDepth = depth,
                    StartBytes = 0,
                    LengthBytes = SizeBytes,
                    Seconds = 60,
                    OperationsAtMost = Operations,
                    StallLimitNs = 100_000_000,
                    Seed = 0,
                };
                Pairs.Compare(
                    $"{kind}, depth {depth}", Operations, (double)Operations * BlockBytes, () => engine.Run(spec), () => Loop(program, device.Path, letter, depth));
            }
        }

        File.Delete(program);
        return 0;
    }

    private static Sample Loop(string program, string device, string letter, int depth)
    {
        string[] fields = Tool.Run(
            program, device, letter, depth.ToString(CultureInfo.InvariantCulture), Operations.ToString(CultureInfo.InvariantCulture), BlockBytes.ToString(CultureInfo.InvariantCulture))
            .Split(' ');
        return new Sample(double.Parse(fields[0], CultureInfo.InvariantCulture), double.Parse(fields[1], CultureInfo.InvariantCulture));
    }

    private static string Compile()
    {
        string program = Path.Combine(Path.GetTempPath(), $"cardassay-loop-{Environment.ProcessId}");
        Tool.Run("cc", "-O2", "-pthread", "-o", program, Path.Combine(AppContext.BaseDirectory, "loop.c"));
        return program;
    }
}
