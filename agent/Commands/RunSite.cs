using System.Security.Cryptography;
using Cardassay.Agent.BlockIo;
using Cardassay.Agent.Conditions;
using Cardassay.Agent.Delivery;
using Cardassay.Agent.Guard;
using Cardassay.Agent.Sysfs;
using Cardassay.Agent.Trials;
using Cardassay.Journal;
using Cardassay.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>
/// Where a run takes place: the target a person named and the card below it. Checks the consent, takes the device for the run
/// alone, and journals what opens and closes the run. The same for trials and proofs.
/// </summary>
internal sealed class RunSite : ICardWatch
{
    private readonly RunRequest _request;
    private readonly SysfsTree _tree;
    private readonly AgentFolder _folder;
    private OpenedWatch _watch;
    private OpenRunMark? _mark;
    private long? _sinceWholeBytes;
    private FilledPieces _filled = FilledPieces.None;

    private RunSite(RunRequest request, SysfsTree tree, AgentFolder folder, ResolvedTarget target, CardSighting? card)
    {
        _request = request;
        _tree = tree;
        _folder = folder;
        Target = target;
        Card = card;
        _watch = new OpenedWatch(tree, target, card);
    }

    internal ResolvedTarget Target { get; private set; }

    /// <summary>What the card says, or null where no disk could be found below the target.</summary>
    internal CardSighting? Card { get; private set; }

    /// <summary>Seed of the run; the same at every call.</summary>
    internal ulong Seed { get; private init; }

    internal RunId RunId { get; } = new(Guid.NewGuid());

    /// <summary>The step the run is at: a trial kind, "preparation" or "proof"; "" before the first.</summary>
    internal string Step { get; private set; } = "";

    /// <summary>What the run is known to have written.</summary>
    internal CardHistory Written { get; private set; } = CardHistory.None;

    /// <summary>True once the run was journaled.</summary>
    internal bool HasBegun => _mark is not null;

    internal string? Tag => _request.Tag;

    internal TimeSpan HangsAfter => _request.HangsAfter;

    internal IConditionsSource Conditions =>
        new ConditionsReader(_tree, Target.DiskName, new HelperBusFiles(_tree)) { Beside = _request.Beside };

    /// <summary>By what is seen later whether anything else wrote to the card.</summary>
    internal CardPresence Presence() => new(
        BoardFacts.Read(_tree).BootId.Value,
        Card is null ? null : CardSighting.Take(_tree, Card.DiskName)?.DiskSequence,
        Conditions.Sample().SectorsWritten);

    /// <summary>
    /// Asks whether the card is still the same one, by its name and by the open descriptor; follows <see cref="PutInAgain"/>.
    /// </summary>
    internal ICardWatch Watch => this;

    /// <summary>Finds the target and its card. Touches nothing.</summary>
    /// <exception cref="CommandException">There is no such target, or it is another card.</exception>
    internal static RunSite Find(RunRequest request, SysfsTree tree, AgentFolder folder)
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

        if (target.Kind == TargetKind.Folder && BufferingFileSystems.WhyRefused(target.FileSystem, target.MountOptions) is { } buffers)
        {
            throw new CommandException($"{target.Path} {buffers}");
        }

        CardSighting? card = target.DiskName is { } disk ? CardSighting.Take(tree, disk) : null;
        if (request.ExpectedIdentity is { } expected && card?.Identity.Text != expected)
        {
            throw new CommandException($"The run is meant for card {expected}, but {request.Target} is on "
                + $"{card?.Identity.Text ?? "no card that could be told"}; put the right card in.");
        }

        if (request.ExpectedMedium is { } medium
            && (target.DiskSequence != medium.Sequence || !Guid.TryParse(BoardFacts.Read(tree).BootId.Value, out Guid boot)
                || boot != medium.Boot))
        {
            throw new CommandException($"The medium in {request.Target} was taken out, or another was put in, since the collector was told "
                + "of it; it is looked at again.");
        }

        return new RunSite(request, tree, folder, target, card)
        {
            Seed = request.Seed ?? BitConverter.ToUInt64(RandomNumberGenerator.GetBytes(8)),
        };
    }

    /// <summary>What will happen, for the person to read before it does.</summary>
    /// <param name="what">The run in a sentence.</param>
    /// <param name="overwrites">Whether it writes raw to the device.</param>
    internal IEnumerable<string> Announcement(string what, bool overwrites)
    {
        string card = Card is null
            ? "no card could be told"
            : $"card {Card.Identity}{(Card.Identity.FromRegisters ? "" : " (registers hidden)")}";
        yield return $"target {Target.Path}, {card}";
        if (Target.Remark is { } remark)
        {
            yield return remark;
        }

        yield return what;
        if (overwrites)
        {
            foreach (string line in DestructionSummary.Read(_tree, Target, Card))
            {
                yield return line;
            }
        }
    }

    /// <summary>Checks consent and safety of writing to the target. Call again right before writing: the world may have changed.</summary>
    /// <exception cref="CommandException">Nothing will be written to the target; every reason is named.</exception>
    internal void CheckConsent(long neededBytes)
    {
        IReadOnlyList<Refusal> refusals = Refusals(neededBytes);
        if (refusals.Count > 0)
        {
            bool onlyConsent = refusals.All(
                r => r.Id is "identity-missing" or "identity-differs" or "fixed-disk" or "system-folder" or "journal-folder"
                    or "folder-unknown" or "link");
            throw new CommandException(
                $"{Target.Path} will not be {(Target.Kind == TargetKind.Device ? "overwritten" : "used")}:{Environment.NewLine}"
                + string.Join(Environment.NewLine, refusals.Select(r => "  " + r.Text)),
                onlyConsent ? 2 : 1);
        }
    }

    /// <summary>Everything that speaks against writing, raw to a device or a scratch file into a folder; empty when nothing does.</summary>
    internal IReadOnlyList<Refusal> Refusals(long neededBytes) => Target.Kind == TargetKind.Folder
        ? new FolderGuard(_tree).Check(new FolderRequest
        {
            Target = Target,
            Written = _request.Target,
            JournalFolder = _folder.Path,
            AllowFixedDisk = _request.AllowFixedDisk,
        })
        : new OverwriteGuard(_tree).Check(new OverwriteRequest
        {
            Target = Target,
            EraseIdentity = _request.EraseIdentity,
            Seen = Card,
            JournalFolder = _folder.Path,
            AllowFixedDisk = _request.AllowFixedDisk,
            NeededBytes = neededBytes,
        });

    /// <inheritdoc/>
    public string? WhatChanged() => _watch.WhatChanged();

    /// <summary>The same card was taken out and put in again: what is opened next must be that.</summary>
    /// <param name="now">How it shows itself now; its identity was compared.</param>
    internal void PutInAgain(CardSighting now)
    {
        Card = now;
        Target = new TargetResolver(_tree).Resolve(_request.Target).Target ?? Target;
        _watch = new OpenedWatch(_tree, Target, now);
    }

    /// <summary>Says that a step begins, so that a run that is cut off tells where.</summary>
    internal void At(string step)
    {
        Step = step;
        _mark?.At(step, Written);
    }

    /// <summary>What the run has written so far: kept with the next step, so that a run that is cut off counts on the card.</summary>
    internal void Wrote(CardHistory inRun) => Written = inRun;

    /// <exception cref="CommandException">Another program uses the device.</exception>
    internal DeviceLock TakeAlone(CancellationToken cancellationToken)
    {
        DeviceLock? alone = DeviceLock.TryTake(Target.Path, Target.OpensAs, out ExclusiveOutcome outcome, cancellationToken);
        return alone ?? throw new CommandException(outcome.State == ExclusiveState.NotTheDevice
            ? $"{Target.Path} leads to another device than before ({outcome.Detail} instead of {Target.DeviceName}, {Target.OpensAs}); "
                + "look at it again and try again."
            : $"{Target.Path} cannot be had for this run alone: {outcome.Detail}. End the program that uses it.");
    }

    /// <summary>Opens the target and compares what is open with what was looked at, before the first byte.</summary>
    /// <exception cref="CommandException">The target cannot be opened, or something else is in its place.</exception>
    internal IBlockTarget Open(bool overwrites, long scratchBytes)
    {
        try
        {
            FileTarget opened = Target.Kind == TargetKind.Device
                ? DeviceTarget.Open(Target.Path, overwrites)
                : FolderTarget.Create(Target.Path, scratchBytes, _watch.WhyNot);
            _watch.Follow(opened);
            if (_watch.WhatChanged() is { } changed)
            {
                opened.Dispose();
                throw new CommandException($"Nothing was written. {changed}");
            }

            return opened;
        }
        catch (TargetException e)
        {
            throw new CommandException(e.Message);
        }
    }

    /// <summary>The record that opens the run. Name, version and text of the plan are left to the caller.</summary>
    internal RunOpened Opening(long targetBytes, long plannedWriteBytes)
    {
        BoardFacts board = BoardFacts.Read(_tree);
        return new RunOpened
        {
            RunId = RunId,
            Tag = _request.Tag,
            Target = Target.Kind,
            TargetPath = Target.Path,
            TargetBytes = targetBytes,
            DiskName = Target.DiskName,
            DiskSequence = Target.DiskSequence,
            Attachment = Target.Attachment,
            FileSystem = Target.FileSystem,
            MountOptions = Target.MountOptions,
            PlanName = "",
            PlanVersion = "",
            PlanText = "",
            Seed = Seed,
            PlannedWriteBytes = plannedWriteBytes,
            HostName = board.HostName.Value ?? "unknown",
            BoardModel = board.Model.Value,
            KernelRelease = board.KernelRelease.Value ?? "unknown",
            BootId = board.BootId.Value ?? "unknown",
            AgentVersion = AgentVersion.Text,
            JournalOnCard = JournalIsOnTheDisk(),
        };
    }

    /// <summary>
    /// What this board's agent wrote to the card before; null where there is no card, or none of which
    /// the device itself is the target.
    /// </summary>
    internal CardHistory? HistoryBefore()
    {
        if (Card is null || Target.Kind != TargetKind.Device)
        {
            return null;
        }

        CardHistory counted = Directory.Exists(_folder.Odometer)
            ? new WearOdometer(new RealLogDisk(_folder.Odometer)).HistoryOf(Card.Identity.Text, _request.Tag)
            : CardHistory.None;
        return OpenRunMark.With(counted, _folder, Card.Identity.Text, _request.Tag);
    }

    /// <summary>Says where the run wrote, for the history of the card.</summary>
    /// <param name="sinceWholeBytes">Bytes since the run had written the device whole; null when it did not.</param>
    /// <param name="filled">Pieces it wrote from end to end.</param>
    internal void Filled(long? sinceWholeBytes, FilledPieces filled) =>
        (_sinceWholeBytes, _filled) = (sinceWholeBytes ?? _sinceWholeBytes, filled.With(_filled));

    /// <summary>Journals a run around what it does.</summary>
    /// <param name="journal">The journal.</param>
    /// <param name="opened">What opens it.</param>
    /// <param name="run">What it does; journals its own results.</param>
    /// <param name="closing">How it ended, without the odometer.</param>
    /// <exception cref="CommandException">The target or the plan cannot be used after all; the run is closed as failed.</exception>
    internal T Journaled<T>(ObservationJournal journal, RunOpened opened, Func<T> run, Func<T, RunClosed> closing)
    {
        OpenRunMark mark = _mark = OpenRunMark.Set(_folder, RunId, _request.Duty, Card?.Identity.Text, _request.Tag, _request.Lane);
        journal.Record(opened);
        if (Card is not null)
        {
            journal.Record(Card.ToObservation(RunId));
        }

        try
        {
            T result = run();
            RunClosed closed = closing(result);
            journal.Record(closed with { OdometerBytes = Odometer(closed.BytesWritten) });
            mark.Clear();
            return result;
        }
        catch (Exception e) when (e is TargetException or Plans.PlanException)
        {
            journal.Record(new RunClosed { RunId = RunId, Outcome = RunOutcome.Failed, Reason = e.Message });
            mark.Clear();
            throw new CommandException(e.Message);
        }
    }

    private bool JournalIsOnTheDisk()
    {
        if (Target.DiskName is not { } disk)
        {
            return false;
        }

        Directory.CreateDirectory(_folder.Path);
        return new TargetResolver(_tree).Resolve(_folder.Path).Target?.Disks.Contains(disk) == true;
    }

    private long Odometer(long bytes)
    {
        if (Card is null)
        {
            return bytes;
        }

        Directory.CreateDirectory(_folder.Odometer);
        return new WearOdometer(new RealLogDisk(_folder.Odometer)).Add(Card.Identity.Text, _request.Tag, bytes, _sinceWholeBytes, _filled,
            Night.Of(TimeProvider.System.GetUtcNow()), RunId).WrittenBytes;
    }
}
