using Cardassay.Agent.Trials;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Agent.Tests.Trials;

/// <summary>Rounds until the steady state, and a budget of bytes for a card.</summary>
[Collection("machine")]
public sealed class SteadyAndBudgetTests
{
    [Fact]
    public void Run_UntilSteady_RepeatsTheStepUntilItsFiguresAre()
    {
        // Time of a write in each round, ms: it falls off, then stays. By the criterion rounds 4 to 8 are the first steady ones.
        double[] delays = [0.2, 0.4, 0.8, 1.6];
        using var target = new MemoryTarget(16 << 20);
        var observer = new Collecting(index => target.Delay = TimeSpan.FromMilliseconds(delays[Math.Min(index, 3)]));
        RunSummary summary = Run(target, observer, """
            { "name": "s", "version": "1", "notShown": "Not all of it.", "repetitions": 2, "restSeconds": 0, "regionBytes": "4 MiB",
              "steps": [ { "kind": "randomRead", "seconds": 5, "operations": 20 }, { "kind": "randomWrite", "seconds": 5, "bytes": "200 KiB", "untilSteady": 30 } ] }
            """);
        Assert.Equal(RunOutcome.Completed, summary.Outcome);
        TrialMeasured[] rounds = [.. observer.Trials.TakeWhile(t => t.Role == TrialRole.WarmUp)];
        Assert.Equal(Enumerable.Range(1, rounds.Length), rounds.Select(t => t.Repetition));
        Assert.All(rounds, t => Assert.Equal(TrialKind.RandomWrite, t.Kind));

        // That the machine held a round up may make it more; that it stops at the first steady window is what is asked.
        double[] figures = [.. rounds.Select(t => t.OperationsPerSecond)];
        Assert.InRange(figures.Length, 8, 30);
        Assert.True(SteadyState.IsReached(figures) || figures.Length == 30);
        Assert.All(Enumerable.Range(5, figures.Length - 5), n => Assert.False(SteadyState.IsReached(figures[..n])));
        Assert.Equal("Not all of it.", summary.Notes[^1]);
        Assert.StartsWith("Random write (first 4 MiB, about 20 % of the card), round after round: ", summary.Notes[0], StringComparison.Ordinal);
        Assert.Equal([TrialKind.RandomRead, TrialKind.RandomWrite], observer.Trials.Skip(rounds.Length).Where(t => t.Pass != 1).Take(2).Select(t => t.Kind));
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void Run_Budget_LeavesOutWhatWouldPassItAndGoesOn(bool isFile)
    {
        // 16 MiB of card: 24 MiB to write, of which 8 go into what is read; 3 into the small overwrites before reading; writes of 4 MiB have room for three.
        using var target = new MemoryTarget(16 << 20) { IsFile = isFile };
        var observer = new Collecting(_ => { });
        RunSummary summary = Run(target, observer, """
            { "name": "b", "version": "1", "repetitions": 5, "regionBytes": "8 MiB", "limits": { "maxCapacities": 1.5 },
              "steps": [ { "kind": "randomRead", "seconds": 5, "operations": 20 }, { "kind": "sequentialWrite", "seconds": 5, "bytes": "4 MiB" } ] }
            """);
        Assert.Equal(RunOutcome.Completed, summary.Outcome);
        Assert.Equal(isFile ? 31 << 20 : 23 << 20, summary.BytesWritten);
        Assert.Equal(isFile ? 5 : 3, observer.Trials.Count(t => t.Kind == TrialKind.SequentialWrite));
        Assert.Equal(6, observer.Trials.Count(t => t is { Kind: TrialKind.RandomRead, Pass: 2 }));
        Assert.Equal(isFile ? [] : ["The budget of 1.5 times the card a night is used up; no more of: sequentialWrite."], summary.Notes);
    }

    [Fact]
    public void Run_BudgetTooSmallForThePreparation_EndsBeforeAnythingIsWritten()
    {
        using var target = new MemoryTarget(16 << 20) { Records = true };
        RunSummary summary = Run(target, new Collecting(_ => { }), """
            { "name": "b", "version": "1", "regionBytes": "8 MiB", "limits": { "maxCapacities": 0.25 },
              "steps": [ { "kind": "randomRead", "seconds": 5 }, { "kind": "sequentialWrite", "seconds": 5, "bytes": "1 MiB" } ] }
            """);
        Assert.Equal((RunOutcome.Failed, "What is next would pass the plan's budget of 0.25 times the card a night."), (summary.Outcome, summary.Reason));
        Assert.Empty(target.Log);
    }

    private static RunSummary Run(MemoryTarget target, IRunObserver observer, string plan) => PlanRunner.Run(
        PlanReader.Parse(plan, "x"), target, new RunContext { RunId = new RunId(Guid.Empty), Seed = 5, Observer = observer }, CancellationToken.None);

    private sealed class Collecting(Action<int> starting) : IRunObserver
    {
        public List<TrialMeasured> Trials { get; } = [];

        public void OnPreparing(long bytes)
        {
        }

        public void OnTrialStarting(int index, int total, PlanStep step, int repetition, TrialRole role) => starting(index);

        public void OnProgress(RunProgress progress)
        {
        }

        public void OnTrialMeasured(TrialMeasured trial) => Trials.Add(trial);

        public void OnConditions(ConditionsSampled sample)
        {
        }
    }
}
