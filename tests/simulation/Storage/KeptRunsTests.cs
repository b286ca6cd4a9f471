using System.Diagnostics;
using Xunit.Abstractions;

namespace Cardassay.Simulation.Tests.Storage;

/// <summary>What is kept of runs says what their records say, whatever came in whatever order, and whatever was left of an earlier version.</summary>
public sealed class KeptRunsTests(ITestOutputHelper output)
{
    private static readonly int Seeds = Environment.GetEnvironmentVariable("CARDASSAY_FULL") == "1" ? 1_000 : 60;

    [Fact]
    public async Task Report_AnyHistory_IsThatOfTheRecords()
    {
        var took = Stopwatch.StartNew();
        long reports = 0, kept = 0;
        for (int seed = 1; seed <= Seeds; seed++)
        {
            var world = new KeptRunsWorld(seed);
            try
            {
                await world.RunAsync();
            }
            catch (Exception error) when (error is not InvalidOperationException)
            {
                throw new InvalidOperationException($"seed {seed}", error);
            }

            reports += world.Figures.Reports;
            kept += world.Figures.Kept;
        }

        output.WriteLine($"{Seeds} histories: {reports} reports made of {kept} kept runs, in {took.Elapsed.TotalSeconds:0} s");
        Assert.True(kept > reports);
    }
}
