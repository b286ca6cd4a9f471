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
    private readonly string? _whyNoProof;

    private MeasureRun(RunSite site, Plan plan, AgentFolder folder, PlanEstimate estimate, string? whyNoProof)
    {
        _site = site;
        _plan = plan;
        _folder = folder;
        Estimate = estimate;
        _whyNoProof = whyNoProof;
    }

    internal PlanEstimate Estimate { get; }

    /// <summary>The run once it has begun; null before.</summary>
    internal RunId? Begun => _site.HasBegun ? _site.RunId : null;

    /// <summary>The step the run is at; "" before the first.</summary>
    internal string Step => _site.Step;

    /// <summary>How long the capacity proof took; nothing before its end or without one.</summary>
    internal TimeSpan ProofTime { get; private set; }

    /// <summary>True when the next run on the card will not begin with this run's capacity proof again.</summary>
    internal bool IsProvenOnce => _plan.Proof is { IsWanted: true, Once: true };

    internal string? DiskName => _site.Target.DiskName;

    internal CardSighting? Card => _site.Card;

    /// <summary>True when the plan writes raw to a device.</summary>
    internal bool Overwrites => _site.Target.Kind == TargetKind.Device && _plan.Writes;

    /// <summary>Finds the target and its card and estimates the plan. Touches nothing.</summary>
    /// <exception cref="CommandException">There is no such target, or the plan does not fit on it.</exception>
    internal static MeasureRun Prepare(RunRequest request, Plan plan, SysfsTree tree, AgentFolder folder)
    {
        RunSite site = RunSite.Find(request, tree, folder);
        if (plan.Limits.MaxCapacities is not null && site.HistoryBefore() is { } before)
        {
            plan = plan with { Limits = plan.Limits with { SpentBytes = before.WrittenIn(Night.Of(TimeProvider.System.GetUtcNow())) } };
        }

        string? whyNoProof = WhyNoProof(plan, site, folder);
        if (whyNoProof is not null)
        {
            plan = plan with { Proof = PlanProof.None };
        }

        if (plan.Proof.IsWanted && site.Target.Kind == TargetKind.Folder)
        {
            throw new CommandException(
                $"The plan {plan.Name} proves the capacity, which {request.Target} cannot show; give the device, "
                    + $"or try the free space alone with `prove {request.Target}`.", 2);
        }

        if (plan.Cliff is not null && site.Target.Kind == TargetKind.Folder)
        {
            throw new CommandException($"The plan {plan.Name} begins with a long write over the card itself, which {request.Target} is "
                + "not; give the device.", 2);
        }

        // A class is defined over the card's own allocation units, which only its registers tell.
        Registers.Reading<Registers.SdStatus> status = site.Card is { } card
            ? CardRegisters.From(card.Files, card.DiskBytes, card.Attachment).Status
            : default;
        plan = ClassUnits.Fit(plan, status.IsKnown ? status.Value : null);
        try
        {
            long bytes = site.Target.Kind == TargetKind.Device ? site.Target.DeviceBytes : plan.ScratchBytes;
            return new MeasureRun(site, plan, folder, PlanEstimate.Of(plan, bytes, site.Target.Kind == TargetKind.Folder), whyNoProof);
        }
        catch (PlanException e)
        {
            throw new CommandException(e.Message, 2);
        }
    }

    /// <summary>Why a plan that may leave its proof out does so here, as a sentence; null when it does not.</summary>
    private static string? WhyNoProof(Plan plan, RunSite site, AgentFolder folder)
    {
        PlanProof proof = plan.Proof;
        if (!proof.IsWanted)
        {
            return null;
        }

        if (site.Target.Kind == TargetKind.Folder)
        {
            return proof.SkipsFolders ? "The capacity was not proven: that needs the card's device, not a folder on it." : null;
        }

        // A proof is whole or nothing: one that does not fit beside the long write would end the run at its beginning.
        if (!PlanEstimate.ProofFits(plan, site.Target.DeviceBytes))
        {
            return string.Create(
                CultureInfo.InvariantCulture,
                $"The capacity is not proven in this run: on this card a proof would pass what is left of the plan's budget of "
                    + $"{plan.Limits.MaxCapacities:0.##} times the card a night; `prove` proves it.");
        }

        return !proof.Once ? null
            : ProvenCard.For(folder, site) is not { } card ? "The capacity was not proven: the card shows no registers by which a later "
                + "run would know that it was; `prove` proves it all the same."
            : card.RunThatProved(proof) is { } run ? $"The capacity was not proven again: run {run} did."
            : null;
    }

    /// <summary>What will happen, for the person to read before it does.</summary>
    internal IEnumerable<string> Announcement()
    {
        string proof = _plan.Proof switch
        {
            { IsWanted: false } => "",
            { Minutes: { } minutes } => string.Create(CultureInfo.InvariantCulture,
                $", of these {minutes:0.#} minutes of capacity proof{(_plan.Proof.Once ? ", once for this card" : "")}"),
            { Kind: PlanProofKind.Full } => ", a full capacity proof among it",
            _ => ", a sparse capacity proof among it",
        };
        foreach (string line in _site.Announcement(
            string.Create(CultureInfo.InvariantCulture,
                $"plan {_plan.Name}: {Text.Span(Estimate.SecondsAtLeast, Estimate.SecondsAtMost)}{proof}, writes at most "
                    + $"{Text.Bytes(Estimate.WriteBytesAtMost)}{Budget}"),
            Overwrites))
        {
            yield return line;
        }

        if (_whyNoProof is not null)
        {
            yield return _whyNoProof;
        }
    }

    private string Budget => _plan.Limits.MaxCapacities is { } times && Overwrites
        ? string.Create(CultureInfo.InvariantCulture, $", within a budget of {times:0.##} times the card a "
            + $"night{(_plan.Limits.SpentBytes > 0 ? $", of which {Text.Bytes(_plan.Limits.SpentBytes)} are used" : "")}")
        : "";

    /// <summary>Checks consent and safety. Call again right before writing: the world may have changed.</summary>
    /// <exception cref="CommandException">The target will not be overwritten; every reason is named.</exception>
    internal void CheckConsent()
    {
        if (Overwrites || _site.Target.Kind == TargetKind.Folder)
        {
            _site.CheckConsent(_plan.ScratchBytes);
        }
    }

    /// <summary>Everything that stands in the way of the run now, each with a stable name; empty when nothing does.</summary>
    internal IEnumerable<(string Id, string Text)> Obstacles()
    {
        bool isFolder = _site.Target.Kind == TargetKind.Folder;
        foreach (Guard.Refusal refusal in Overwrites || isFolder ? _site.Refusals(_plan.ScratchBytes) : [])
        {
            yield return (refusal.Id, refusal.Text);
        }

        if (isFolder && FolderTarget.WhyUnusable(_site.Target.Path, _plan.ScratchBytes) is { } problem)
        {
            yield return ("folder", problem);
        }
    }

    /// <summary>Runs the plan and journals everything.</summary>
    /// <exception cref="CommandException">The target cannot be used; nothing was written to it.</exception>
    internal RunResult Execute(ObservationJournal journal, RunDisplay display, CancellationToken cancellationToken)
    {
        CheckConsent();
        display.SecondsLeft = Estimate.SecondsAtMost;
        display.SecondsAfterProof = Estimate.SecondsAtMost - Estimate.ProofSecondsAtMost;
        using DeviceLock? alone = Overwrites ? _site.TakeAlone(cancellationToken) : null;
        using IBlockTarget target = _site.Open(Overwrites, _plan.ScratchBytes);
        if (Overwrites && (_plan.Proof.Kind != PlanProofKind.Full || _plan.Cliff is not null))
        {
            // What a proof has written so far is about to be overwritten: it cannot be taken up again.
            ProofCheckpoint.For(_folder, _site).Forget();
        }

        var observer = new JournalingObserver(journal, display, _site);
        RunSummary summary = _site.Journaled(
            journal,
            _site.Opening(target.SizeBytes, Estimate.WriteBytesAtMost) with
            {
                PlanName = _plan.Name,
                PlanVersion = _plan.Version,
                PlanText = _plan.Text,
            },
            () => Measure(target, journal, display, observer, cancellationToken),
            ended => new RunClosed
            {
                RunId = _site.RunId,
                Outcome = ended.Outcome,
                Reason = ended.Reason,
                BytesWritten = ended.BytesWritten,
            });
        return new RunResult(_site.RunId, _site.Target, _site.Card, observer.Trials, summary);
    }

    private RunSummary Measure(
        IBlockTarget target, ObservationJournal journal, RunDisplay display, JournalingObserver observer,
        CancellationToken cancellationToken)
    {
        ProofEnd? proven = null;
        RunSummary summary = PlanRunner.Run(
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
                History = _site.HistoryBefore(),
                Prove = !_plan.Proof.IsWanted ? null : cancellation =>
                {
                    (ProvenPass pass, proven) = Prove(target, journal, display, cancellation);
                    return pass;
                },
            },
            cancellationToken);
        if (target.Kind == TargetKind.Device)
        {
            _site.Filled(summary.SinceWholeBytes, summary.Filled);
        }

        return proven is { } end ? summary with { Notes = [ProofFindings.Statement(end.Proof), .. summary.Notes], Proof = end.Proof }
            : _whyNoProof is not null ? summary with { Notes = [_whyNoProof, .. summary.Notes] }
            : summary;
    }

    private (ProvenPass Pass, ProofEnd End) Prove(
        IBlockTarget target, ObservationJournal journal, RunDisplay display, CancellationToken cancellation)
    {
        _site.At("proof");
        bool isFull = _plan.Proof.Kind == PlanProofKind.Full;
        var work = new ProofWork(_site, isFull ? ProofKind.Full : ProofKind.Sparse, _folder)
        {
            Budget = _plan.Proof.Minutes is { } minutes ? TimeSpan.FromMinutes(minutes) : null,
        };
        long began = TimeProvider.System.GetTimestamp();
        (ProofEnd end, long bytesWritten) = work.Run(target, journal, display, cancellation);
        ProofTime = TimeProvider.System.GetElapsedTime(began);
        display.Line(AgentEvent.ProofEnded, ProofFindings.Statement(end.Proof));
        bool isWhole = isFull && end.Outcome == RunOutcome.Completed;
        if (isWhole)
        {
            _site.Filled(0, FilledPieces.Whole(target.SizeBytes)); // also when what follows fails
        }

        bool isRight = isWhole && end.Proof.Counts.Kept * SectorTag.BlockBytes == target.SizeBytes;
        RunStop? stop = end.Outcome == RunOutcome.Completed ? null : new RunStop(end.Outcome, end.Reason ?? "The proof was stopped.");
        return (new ProvenPass(stop, bytesWritten, ProofTime.TotalSeconds, isWhole, isRight ? end.Proof.Nonce : null), end);
    }
}
