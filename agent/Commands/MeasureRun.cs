using System.Globalization;
using Cardassay.Agent.BlockIo;
using Cardassay.Agent.CapacityProof;
using Cardassay.Agent.Delivery;
using Cardassay.Agent.Sysfs;
using Cardassay.Agent.Trials;
using Cardassay.Identity;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>One run of a plan, from the target a person names to the closing record. The same for `measure` and `work`.</summary>
internal sealed class MeasureRun
{
    private readonly RunSite _site;
    private readonly Plan _plan;
    private readonly AgentFolder _folder;

    private MeasureRun(RunSite site, Plan plan, AgentFolder folder, PlanEstimate estimate)
    {
        _site = site;
        _plan = plan;
        _folder = folder;
        Estimate = estimate;
    }

    internal PlanEstimate Estimate { get; }

    /// <summary>The run once it has begun; null before.</summary>
    internal RunId? Begun => _site.HasBegun ? _site.RunId : null;

    /// <summary>The step the run is at; "" before the first.</summary>
    internal string Step => _site.Step;

    internal string? DiskName => _site.Target.DiskName;

    internal CardSighting? Card => _site.Card;

    /// <summary>True when the plan writes raw to a device.</summary>
    internal bool Overwrites => _site.Target.Kind == TargetKind.Device && _plan.Writes;

    /// <summary>Finds the target and its card and estimates the plan. Touches nothing.</summary>
    /// <exception cref="CommandException">There is no such target, or the plan does not fit on it.</exception>
    internal static MeasureRun Prepare(RunRequest request, Plan plan, SysfsTree tree, AgentFolder folder)
    {
        RunSite site = RunSite.Find(request, tree, folder);
        if (plan.Proof != PlanProof.None && site.Target.Kind == TargetKind.Folder)
        {
            throw new CommandException(
                $"The plan {plan.Name} proves the capacity, which {request.Target} cannot show; give the device, or try the free space alone with `prove {request.Target}`.", 2);
        }

        // A class is defined over the card's own allocation units, which only its registers tell.
        Registers.Reading<Registers.SdStatus> status = site.Card is { } card ? CardRegisters.From(card.Files, card.DiskBytes, card.Attachment).Status : default;
        plan = ClassUnits.Fit(plan, status.IsKnown ? status.Value : null);
        try
        {
            long bytes = site.Target.Kind == TargetKind.Device ? site.Target.DeviceBytes : plan.ScratchBytes;
            return new MeasureRun(site, plan, folder, PlanEstimate.Of(plan, bytes, site.Target.Kind == TargetKind.Folder));
        }
        catch (PlanException e)
        {
            throw new CommandException(e.Message, 2);
        }
    }

    /// <summary>What will happen, for the person to read before it does.</summary>
    internal IEnumerable<string> Announcement() => _site.Announcement(
        string.Create(CultureInfo.InvariantCulture,
            $"plan {_plan.Name}: {Text.Span(Estimate.SecondsAtLeast, Estimate.SecondsAtMost)}, writes at most {Text.Bytes(Estimate.WriteBytesAtMost)}"),
        Overwrites);

    /// <summary>Checks consent and safety. Call again right before writing: the world may have changed.</summary>
    /// <exception cref="CommandException">The target will not be overwritten; every reason is named.</exception>
    internal void CheckConsent()
    {
        if (Overwrites)
        {
            _site.CheckConsent(_plan.ScratchBytes);
        }
    }

    /// <summary>Everything that stands in the way of the run now, each with a stable name; empty when nothing does.</summary>
    internal IEnumerable<(string Id, string Text)> Obstacles()
    {
        if (Overwrites)
        {
            return _site.Refusals(_plan.ScratchBytes).Select(r => (r.Id, r.Text));
        }

        return _site.Target.Kind == TargetKind.Folder && FolderTarget.WhyUnusable(_site.Target.Path, _plan.ScratchBytes) is { } problem
            ? [("folder", problem)]
            : [];
    }

    /// <summary>Runs the plan and journals everything.</summary>
    /// <exception cref="CommandException">The target cannot be used; nothing was written to it.</exception>
    internal RunResult Execute(ObservationJournal journal, RunDisplay display, CancellationToken cancellationToken)
    {
        CheckConsent();
        display.SecondsLeft = Estimate.SecondsAtMost;
        using DeviceLock? alone = Overwrites ? _site.TakeAlone(cancellationToken) : null;
        using IBlockTarget target = _site.Open(Overwrites, _plan.ScratchBytes);
        if (Overwrites && _plan.Proof != PlanProof.Full)
        {
            // What a proof has written so far is about to be overwritten: it cannot be taken up again.
            ProofCheckpoint.For(_folder, _site).Forget();
        }

        var observer = new JournalingObserver(journal, display, _site.At);
        RunSummary summary = _site.Journaled(
            journal,
            _site.Opening(target.SizeBytes, Estimate.WriteBytesAtMost) with { PlanName = _plan.Name, PlanVersion = _plan.Version, PlanText = _plan.Text },
            () => ProofThenTrials(target, journal, display, observer, cancellationToken),
            ended => new RunClosed { RunId = _site.RunId, Outcome = ended.Outcome, Reason = ended.Reason, BytesWritten = ended.BytesWritten });
        return new RunResult(_site.RunId, _site.Target, _site.Card, observer.Trials, summary);
    }

    private RunSummary ProofThenTrials(
        IBlockTarget target, ObservationJournal journal, RunDisplay display, JournalingObserver observer, CancellationToken cancellationToken)
    {
        if (_plan.Proof == PlanProof.None)
        {
            return Trials(target, observer, cancellationToken);
        }

        _site.At("proof");
        var work = new ProofWork(_site, _plan.Proof == PlanProof.Full ? ProofKind.Full : ProofKind.Sparse, _folder);
        (ProofEnd end, long bytesWritten) = work.Run(target, journal, display, cancellationToken);
        string statement = ProofFindings.Statement(end.Proof);
        display.Line(AgentEvent.ProofEnded, statement);
        RunSummary trials = end.Outcome == RunOutcome.Completed && _plan.Steps.Count > 0
            ? Trials(target, observer, cancellationToken)
            : new RunSummary { Outcome = end.Outcome, Reason = end.Reason };
        return trials with { BytesWritten = trials.BytesWritten + bytesWritten, Notes = [statement, .. trials.Notes], Proof = end.Proof };
    }

    private RunSummary Trials(IBlockTarget target, JournalingObserver observer, CancellationToken cancellationToken) => PlanRunner.Run(
        _plan,
        target,
        new RunContext
        {
            RunId = _site.RunId,
            Seed = _site.Seed,
            Observer = observer,
            Conditions = _site.Conditions,
            CardWatch = _site.Watch,
            HangsAfter = _site.HangsAfter,
        },
        cancellationToken);
}
