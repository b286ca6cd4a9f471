using System.Globalization;
using System.Security.Cryptography;
using Cardassay.Agent.BlockIo;
using Cardassay.Agent.Conditions;
using Cardassay.Agent.Delivery;
using Cardassay.Agent.Guard;
using Cardassay.Agent.Sysfs;
using Cardassay.Agent.Trials;
using Cardassay.Journal;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>
/// One run from the target a person names to the closing record: find the card, check the consent, open the target, journal what is
/// measured. The same for `measure` and `work`.
/// </summary>
internal sealed class MeasureRun
{
    private readonly RunRequest _request;
    private readonly SysfsTree _tree;
    private readonly AgentFolder _folder;
    private readonly ResolvedTarget _target;
    private readonly CardSighting? _card;

    private MeasureRun(RunRequest request, SysfsTree tree, AgentFolder folder, ResolvedTarget target, CardSighting? card, PlanEstimate estimate)
    {
        _request = request;
        _tree = tree;
        _folder = folder;
        _target = target;
        _card = card;
        Estimate = estimate;
    }

    internal PlanEstimate Estimate { get; }

    internal ResolvedTarget Target => _target;

    /// <summary>What the card says, or null where no disk could be found below the target.</summary>
    internal CardSighting? Card => _card;

    /// <summary>True when the plan writes raw to a device.</summary>
    internal bool Overwrites => _target.Kind == TargetKind.Device && _request.Plan.Writes;

    /// <summary>Finds the target and its card and estimates the plan. Touches nothing.</summary>
    /// <exception cref="CommandException">There is no such target, or the plan does not fit on it.</exception>
    internal static MeasureRun Prepare(RunRequest request, SysfsTree tree, AgentFolder folder)
    {
        if (request.Tag is { } tag && Identity.ClaimCheck.TagProblem(tag) is { } problem)
        {
            throw new CommandException($"--tag: {problem}", 2);
        }

        TargetResolution resolution = new TargetResolver(tree).Resolve(request.Target);
        if (resolution.Target is not { } target)
        {
            throw new CommandException(resolution.Problem ?? $"There is no target {request.Target}.");
        }

        CardSighting? card = target.DiskName is { } disk ? CardSighting.Take(tree, disk) : null;
        if (request.ExpectedIdentity is { } expected && card?.Identity.Text != expected)
        {
            throw new CommandException($"The run is meant for card {expected}, but {request.Target} is on {card?.Identity.Text ?? "no card that could be told"}; put the right card in.");
        }

        try
        {
            long bytes = target.Kind == TargetKind.Device ? target.DeviceBytes : request.Plan.ScratchBytes;
            PlanEstimate estimate = PlanEstimate.Of(request.Plan, bytes, target.Kind == TargetKind.Folder);
            return new MeasureRun(request, tree, folder, target, card, estimate);
        }
        catch (PlanException e)
        {
            throw new CommandException(e.Message, 2);
        }
    }

    /// <summary>What will happen, for the person to read before it does.</summary>
    internal IEnumerable<string> Announcement()
    {
        string card = _card is null ? "no card could be told" : $"card {_card.Identity}{(_card.Identity.FromRegisters ? "" : " (registers hidden)")}";
        yield return $"target {_target.Path}, {card}";
        if (_target.Remark is { } remark)
        {
            yield return remark;
        }

        yield return string.Create(CultureInfo.InvariantCulture,
            $"plan {_request.Plan.Name}: {Text.Span(Estimate.SecondsAtLeast, Estimate.SecondsAtMost)}, writes at most {Text.Bytes(Estimate.WriteBytesAtMost)}");
        if (Overwrites)
        {
            foreach (string line in DestructionSummary.Read(_tree, _target, _card))
            {
                yield return line;
            }
        }
    }

    /// <summary>Checks consent and safety. Call again right before writing: the world may have changed.</summary>
    /// <exception cref="CommandException">The target will not be overwritten; every reason is named.</exception>
    internal void CheckConsent()
    {
        if (!Overwrites)
        {
            return;
        }

        IReadOnlyList<Refusal> refusals = new OverwriteGuard(_tree).Check(new OverwriteRequest
        {
            Target = _target,
            EraseIdentity = _request.EraseIdentity,
            Seen = _card,
            JournalFolder = _folder.Path,
            AllowFixedDisk = _request.AllowFixedDisk,
            NeededBytes = _request.Plan.ScratchBytes,
        });
        if (refusals.Count > 0)
        {
            bool onlyConsent = refusals.All(r => r.Id is "identity-missing" or "identity-differs" or "fixed-disk");
            throw new CommandException(
                $"{_target.Path} will not be overwritten:{Environment.NewLine}"
                + string.Join(Environment.NewLine, refusals.Select(r => "  " + r.Text)),
                onlyConsent ? 2 : 1);
        }
    }

    /// <summary>Runs the plan and journals everything.</summary>
    /// <exception cref="CommandException">The target cannot be used; nothing was written to it.</exception>
    internal RunResult Execute(ObservationJournal journal, RunDisplay display, CancellationToken cancellationToken)
    {
        CheckConsent();
        display.SecondsLeft = Estimate.SecondsAtMost;
        using DeviceLock? alone = Overwrites ? TakeAlone(cancellationToken) : null;
        using IBlockTarget target = OpenTarget();
        var runId = new RunId(Guid.NewGuid());
        ulong seed = _request.Seed ?? BitConverter.ToUInt64(RandomNumberGenerator.GetBytes(8));
        var observer = new JournalingObserver(journal, display);
        OpenRunMark mark = OpenRunMark.Set(_folder, runId);
        journal.Record(Opening(runId, seed, target));
        if (_card is not null)
        {
            journal.Record(_card.ToObservation(runId));
        }

        RunSummary summary;
        try
        {
            summary = PlanRunner.Run(_request.Plan, target, new RunContext
            {
                RunId = runId,
                Seed = seed,
                Observer = observer,
                Conditions = new ConditionsReader(_tree, _target.DiskName),
                CardWatch = _card is null ? null : new CardWatch(_tree, _card),
            }, cancellationToken);
        }
        catch (Exception e) when (e is TargetException or PlanException)
        {
            journal.Record(new RunClosed { RunId = runId, Outcome = RunOutcome.Failed, Reason = e.Message });
            mark.Clear();
            throw new CommandException(e.Message);
        }

        journal.Record(new RunClosed
        {
            RunId = runId,
            Outcome = summary.Outcome,
            Reason = summary.Reason,
            BytesWritten = summary.BytesWritten,
            OdometerBytes = Odometer(summary.BytesWritten),
        });
        mark.Clear();
        return new RunResult(runId, _target, _card, observer.Trials, summary);
    }

    private DeviceLock TakeAlone(CancellationToken cancellationToken)
    {
        DeviceLock? alone = DeviceLock.TryTake(_target.Path, null, out ExclusiveOutcome outcome, cancellationToken);
        return alone ?? throw new CommandException($"{_target.Path} cannot be had for this run alone: {outcome.Detail}. End the program that uses it.");
    }

    private IBlockTarget OpenTarget()
    {
        try
        {
            return _target.Kind == TargetKind.Device
                ? DeviceTarget.Open(_target.Path, Overwrites)
                : FolderTarget.Create(_target.Path, _request.Plan.ScratchBytes);
        }
        catch (TargetException e)
        {
            throw new CommandException(e.Message);
        }
    }

    private RunOpened Opening(RunId runId, ulong seed, IBlockTarget target)
    {
        BoardFacts board = BoardFacts.Read(_tree);
        return new RunOpened
        {
            RunId = runId,
            Tag = _request.Tag,
            Target = _target.Kind,
            TargetPath = _target.Path,
            TargetBytes = target.SizeBytes,
            DiskName = _target.DiskName,
            DiskSequence = _target.DiskSequence,
            Attachment = _target.Attachment,
            FileSystem = _target.FileSystem,
            MountOptions = _target.MountOptions,
            PlanName = _request.Plan.Name,
            PlanVersion = _request.Plan.Version,
            PlanText = _request.Plan.Text,
            Seed = seed,
            PlannedWriteBytes = Estimate.WriteBytesAtMost,
            HostName = board.HostName.Value ?? "unknown",
            BoardModel = board.Model.Value,
            KernelRelease = board.KernelRelease.Value ?? "unknown",
            BootId = board.BootId.Value ?? "unknown",
            AgentVersion = AgentVersion.Text,
            JournalOnCard = JournalIsOnTheDisk(),
        };
    }

    private bool JournalIsOnTheDisk()
    {
        if (_target.DiskName is not { } disk)
        {
            return false;
        }

        Directory.CreateDirectory(_folder.Path);
        return new TargetResolver(_tree).Resolve(_folder.Path).Target?.Disks.Contains(disk) == true;
    }

    private long Odometer(long bytes)
    {
        if (_card is null)
        {
            return bytes;
        }

        Directory.CreateDirectory(_folder.Odometer);
        return new WearOdometer(new RealLogDisk(_folder.Odometer)).Add(_card.Identity.Text, _request.Tag, bytes);
    }
}
