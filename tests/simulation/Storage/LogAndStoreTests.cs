using System.Diagnostics;
using Xunit.Abstractions;

namespace Cardassay.Simulation.Tests.Storage;

/// <summary>Log and database, each in any state: a record that either of the two holds is in the report or named as lost.</summary>
public sealed class LogAndStoreTests(ITestOutputHelper output)
{
    private static readonly int Seeds = Environment.GetEnvironmentVariable("CARDASSAY_FULL") == "1" ? 100_000 : 500;

    [Fact]
    public async Task Open_AnyStateOfLogAndDatabase_LosesNothingThatEitherHolds()
    {
        var took = Stopwatch.StartNew();
        long reported = 0;
        long named = 0;
        long recovered = 0;
        for (int seed = 1; seed <= Seeds; seed++)
        {
            var world = new LogAndStoreWorld(seed);
            try
            {
                await world.RunAsync();
            }
            catch (Exception error) when (error is not InvalidOperationException)
            {
                throw new InvalidOperationException($"seed {seed} ({world.Case})", error);
            }

            reported += world.Figures.Reported;
            named += world.Figures.Named;
            recovered += world.Figures.Recovered;
        }

        output.WriteLine($"{Seeds} states: {reported} records reported, {named} named as lost, {recovered} brought back into the log, in {took.Elapsed.TotalSeconds:0} s");
        Assert.True(recovered > Seeds && named > 0);
    }
}
