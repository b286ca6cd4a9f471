using System.Globalization;
using Cardassay.Agent.BlockIo;
using Cardassay.Agent.CapacityProof;
using Cardassay.Agent.Delivery;
using Cardassay.Agent.Sysfs;
using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>One capacity proof, from the target a person names to the closing record.</summary>
internal sealed class ProveRun
{
    private const string PlanVersion = "1";

    /// <summary>Part of the free space that is left alone: the board may run from this very card.</summary>
    private const int LeftFreePart = 50;

    private const long LeftFreeBytes = 32 << 20;

    private readonly RunSite _site;
    private readonly ProveOptions _options;
    private readonly SysfsTree _tree;
    private readonly AgentFolder _folder;
    private readonly long _scratchBytes;

    private ProveRun(RunSite site, ProveOptions options, SysfsTree tree, AgentFolder folder)
    {
        _site = site;
        _options = options;
        _tree = tree;
        _folder = folder;
        if (!OnDevice)
        {
            long free = new DriveInfo(site.Target.Path).AvailableFreeSpace;
            _scratchBytes = (free - Math.Max(LeftFreeBytes, free / LeftFreePart)) >> 20 << 20;
        }
    }

    private bool OnDevice => _site.Target.Kind == TargetKind.Device;

    private ProofKind Kind => !OnDevice ? ProofKind.FreeSpace : _options.Full ? ProofKind.Full : ProofKind.Sparse;

    private long RangeBytes => OnDevice ? _site.Target.DeviceBytes : _scratchBytes;

    private long PlannedBytes => new ProofWork(_site, Kind, _folder) { Budget = _options.Budget }.PlannedBytes(RangeBytes);

    /// <summary>Finds the target and its card. Touches nothing.</summary>
    /// <exception cref="CommandException">There is no such target, or it does not fit the options.</exception>
    internal static ProveRun Prepare(RunRequest request, ProveOptions options, SysfsTree tree, AgentFolder folder)
    {
        RunSite site = RunSite.Find(request, tree, folder);
        if (options.Pause && (site.Target.Kind == TargetKind.Folder || !options.Full))
        {
            throw new CommandException("--pause belongs to a full proof of a device; add --full, or leave it out.", 2);
        }

        if (options.Budget is not null && (site.Target.Kind == TargetKind.Folder || options.Full))
        {
            throw new CommandException("--minutes belongs to a sparse proof of a device; "
                + "leave out --full and give the device, or leave it out.", 2);
        }

        var run = new ProveRun(site, options, tree, folder);
        if (run.RangeBytes < SectorTag.BlockBytes)
        {
            throw new CommandException(run.OnDevice
                ? $"The size of {site.Target.Path} is unknown or nothing; put the card in again."
                : $"{site.Target.Path} has too little free space for a proof; free some.");
        }

        return run;
    }

    /// <summary>What will happen, for the person to read before it does.</summary>
    internal IEnumerable<string> Announcement()
    {
        string what = Kind switch
        {
            ProofKind.Full => $"full capacity proof: writes every block ({Text.Bytes(PlannedBytes)}), then reads every block",
            ProofKind.Sparse when _options.Budget is { } budget =>
                $"sparse capacity proof of {Text.Duration(budget.TotalSeconds)}: writes probes and as much more as half of "
                    + $"that time has room for ({Text.Bytes(PlannedBytes)} at the most) all over the card, then reads it back",
            ProofKind.Sparse => $"sparse capacity proof: writes {Text.Bytes(PlannedBytes)} all over the card and reads the probes back",
            _ => $"gentle capacity proof: fills {Text.Bytes(PlannedBytes)} of free space with a scratch file and reads it "
                + "back; files are left alone, but it says nothing of the addresses they use, and on a card that wraps any write can hit "
                + "them: copy what is dear to you first",
        };
        foreach (string line in _site.Announcement(what, OnDevice))
        {
            yield return line;
        }

        if (new ProofWork(_site, Kind, _folder) { FromStart = _options.FromStart }.Interrupted(RangeBytes)?.Proof is { } earlier)
        {
            yield return string.Create(CultureInfo.InvariantCulture,
                $"An earlier proof of this card was cut off with {Text.Bytes(earlier.WrittenThroughBytes)} written and "
                    + $"{Text.Bytes(earlier.ReadThroughBytes)} read; it goes on from there if the card still holds its blocks and the "
                    + $"kernel counted no other write to it (--from-start begins anew).");
        }
    }

    /// <summary>Checks consent and safety. Call again right before writing: the world may have changed.</summary>
    /// <exception cref="CommandException">The target will not be overwritten; every reason is named.</exception>
    internal void CheckConsent()
    {
        _site.CheckConsent(0);
    }

    /// <summary>Proves and journals everything.</summary>
    /// <exception cref="CommandException">The target cannot be used; nothing was written to it.</exception>
    internal ProveResult Execute(ObservationJournal journal, RunDisplay display, CancellationToken cancellationToken)
    {
        CheckConsent();
        using var held = new HeldTarget(
            () => OnDevice ? _site.TakeAlone(cancellationToken) : null,
            () => _site.Open(OnDevice, _scratchBytes));
        var work = new ProofWork(_site, Kind, _folder)
        {
            FromStart = _options.FromStart,
            Budget = _options.Budget,
            CheckpointBytes = _options.CheckpointBytes,
            Between = _options.Pause ? (_, cancel) => Reinsertion.Wait(_tree, _site, held, display, cancel) : null,
        };
        (ProofEnd end, _) = _site.Journaled(
            journal,
            _site.Opening(held.Target.SizeBytes, PlannedBytes) with
            {
                PlanName = "capacity-proof",
                PlanVersion = PlanVersion,
                PlanText = PlanText(),
            },
            () =>
            {
                (ProofEnd End, long BytesWritten) ended = work.Run(held.Target, journal, display, cancellationToken);
                if (Kind == ProofKind.Full && ended.End.Outcome == RunOutcome.Completed)
                {
                    _site.Filled(0, Trials.FilledPieces.Whole(held.Target.SizeBytes));
                }

                return ended;
            },
            ended => new RunClosed
            {
                RunId = _site.RunId,
                Outcome = ended.End.Outcome,
                Reason = ended.End.Reason,
                BytesWritten = ended.BytesWritten,
            });
        return new ProveResult(_site.RunId, _site.Target, end.Proof, end.Outcome, end.Reason);
    }

    private string PlanText()
    {
        string kind = Kind switch { ProofKind.Full => "full", ProofKind.Sparse => "sparse", _ => "free-space" };
        string minutes = _options.Budget is { } budget
            ? string.Create(CultureInfo.InvariantCulture, $",\"minutes\":{budget.TotalMinutes:0.###}")
            : "";
        return $$"""{"name":"capacity-proof","version":"{{PlanVersion}}","kind":"{{kind}}"{{minutes}}}""";
    }
}

/// <summary>How a capacity shall be proven.</summary>
internal sealed record ProveOptions
{
    /// <summary>Every block instead of probes.</summary>
    internal bool Full { get; init; }

    /// <summary>Time for a sparse proof to spend on further blocks; null without.</summary>
    internal TimeSpan? Budget { get; init; }

    /// <summary>Wait for the card to be taken out and put in again between writing and reading.</summary>
    internal bool Pause { get; init; }

    /// <summary>Forget how far an interrupted proof came.</summary>
    internal bool FromStart { get; init; }

    /// <summary>A full proof can be taken up again from every so many bytes.</summary>
    internal long CheckpointBytes { get; init; } = 256L << 20;
}

/// <summary>What a proof came to.</summary>
internal sealed record ProveResult(RunId RunId, ResolvedTarget Target, ProofMeasured Proof, RunOutcome Outcome, string? Reason)
{
    internal IReadOnlyList<Finding> Findings { get; } = ProofFindings.Of(Proof);

    internal ProofJudgement Judgement { get; } = ProofJudgement.Of(Proof);

    /// <summary>True when it came to its end and found nothing; what could not be judged is not clean.</summary>
    internal bool IsClean => Outcome == RunOutcome.Completed && Judgement.Word == ProofWord.NoOverstatementFound;
}
