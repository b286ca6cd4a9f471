using Cardassay.Agent.Trials;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Commands;
using Cardassay.Collector.Report.Model;
using Cardassay.Identity;
using Cardassay.ModelCards.Tests.Models;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.ModelCards.Tests;

/// <summary>Runs of plans on one model card, one after the other, and what the report says of them.</summary>
internal sealed class Night(CardModel model, long size = ModelCard.Size) : IRunObserver
{
    private static readonly DateTimeOffset Begin = new(2031, 3, 12, 22, 0, 0, TimeSpan.Zero);

    private readonly ModelCard _card = new(model, size);
    private readonly List<RunRecord> _runs = [];
    private readonly List<TrialMeasured> _trials = [];
    private CardHistory _history = CardHistory.None;

    /// <summary>What the last run said below its results.</summary>
    public IReadOnlyList<string> Notes { get; private set; } = [];

    /// <summary>Trials of the last run.</summary>
    public IReadOnlyList<TrialMeasured> Trials => _trials;

    /// <summary>Runs a plan that comes with the program as a board does. Asserts that it ends well and that no trial is invalid or remarked upon.</summary>
    public Night Run(string plan, ulong seed = 1) => Run(BuiltInPlans.Find(plan)!, seed);

    public Night Run(Plan plan, ulong seed = 1)
    {
        plan = PlanEstimate.ProofFits(plan, size) ? plan : plan with { Proof = PlanProof.None };
        Assert.False(plan.Proof.IsWanted);
        _trials.Clear();
        var id = new RunId(new Guid((int)seed, 0, 0, 1, 2, 3, 4, 5, 6, 7, (byte)_runs.Count));
        PlanEstimate estimate = PlanEstimate.Of(plan, size, fillsEverything: false);
        long begunNs = _card.Clock.NowNs;
        RunSummary summary = PlanRunner.Run(
            plan, _card, new RunContext { RunId = id, Seed = seed, Observer = this, Conditions = _card, Clock = _card.Clock, History = _history }, CancellationToken.None);
        Assert.Equal((RunOutcome.Completed, null), (summary.Outcome, summary.Reason));
        Assert.All(_trials, trial => Assert.True(trial is { Valid: true, Reasons.Count: 0 }, $"{trial.Kind} {trial.Index}: {string.Join(' ', trial.Reasons)}"));
        Assert.InRange(summary.BytesWritten, 0, estimate.WriteBytesAtMost);
        Assert.InRange((_card.Clock.NowNs - begunNs) / 1e9, 0, estimate.SecondsAtMost);
        Notes = summary.Notes;
        _history = _history.After(summary.BytesWritten, summary.SinceWholeBytes, summary.Filled);
        _runs.Add(Record(plan, id, summary.BytesWritten));
        return this;
    }

    /// <summary>Figures that count of a kind, in a range of so many bytes where that is given.</summary>
    public double[] Figures(TrialKind kind, long? rangeBytes = null, int depth = 1, int pass = 2, int segments = 0, bool isRecovery = false)
    {
        double[] figures =
        [
            .. _trials.Where(t => t.Kind == kind && t.Role == TrialRole.Measured && t.QueueDepth == depth && t.Recovery == isRecovery
                && (rangeBytes is null || t.RangeBytes == rangeBytes) && (t.Kind != TrialKind.RandomRead || t.Pass == pass) && (segments == 0 || t.OpenSegments == segments)).Select(TrialFigure.Of),
        ];
        Assert.NotEmpty(figures);
        return figures;
    }

    /// <summary>Asserts that the median of figures is within 5 % of what the model card really does.</summary>
    public static void IsTrue(double truth, double[] figures)
    {
        double median = figures.Order().ElementAt(figures.Length / 2);
        Assert.True(Math.Abs((median / truth) - 1) <= 0.05, $"{median} against a truth of {truth}");
    }

    /// <summary>The card's page.</summary>
    public ReportCard Report()
    {
        var claim = new Claim { Tag = "M-01", Maker = "Halvorn", Product = "Model", LabelGigabytes = (decimal)Math.Floor(size / 1e9), Condition = CardCondition.New };
        var data = new MasterData
        {
            AsOf = Begin.AddDays(_runs.Count).AddHours(11),
            Runs = _runs,
            Claims = [new ClaimEntry(Begin, claim)],
            Boards = [new BoardRecord("bench-1", null, Begin.AddDays(_runs.Count))],
        };
        return Assert.Single(ReportDesk.Model(data, UseProfile.SystemDisk).Cards);
    }

    void IRunObserver.OnPreparing(long bytes)
    {
    }

    void IRunObserver.OnTrialStarting(int index, int total, PlanStep step, int repetition, TrialRole role) => Assert.True(total > index);

    void IRunObserver.OnProgress(RunProgress progress) => Assert.InRange(progress.Fraction, 0, 1);

    void IRunObserver.OnTrialMeasured(TrialMeasured trial) => _trials.Add(trial);

    void IRunObserver.OnConditions(ConditionsSampled sample)
    {
    }

    private RunRecord Record(Plan plan, RunId id, long written)
    {
        string epoch = new('a', 32);
        long first = 1 + (10_000L * _runs.Count);
        DateTimeOffset at = Begin.AddDays(_runs.Count);
        return new RunRecord
        {
            Key = new RecordKey(epoch, first),
            Board = "bench-1",
            Opened = new RunOpened
            {
                RunId = id, Tag = "M-01", Target = TargetKind.Device, TargetPath = "/dev/mmcblk1", TargetBytes = size, Attachment = Attachment.Slot, PlanName = plan.Name,
                PlanVersion = plan.Version, PlanText = plan.Text, HostName = "bench-1", KernelRelease = "6.12", BootId = "b", AgentVersion = "0", Invented = true,
            },
            Card = new CardIdentified { RunId = id, Identity = "identity-M-01", IdentityFromRegisters = true, DiskBytes = size },
            Trials = [.. _trials.Select((trial, i) => new TrialRecord(new RecordKey(epoch, first + 1 + i), trial))],
            Closed = new RunClosed { RunId = id, Outcome = RunOutcome.Completed, BytesWritten = written },
            OpenedAt = at,
            ReceivedAt = at.AddSeconds(1),
        };
    }
}
