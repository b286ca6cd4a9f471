using Cardassay.Collector.Analysis;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Observability;
using Cardassay.Collector.Report;
using Cardassay.Collector.Storage;
using Cardassay.Identity;
using Cardassay.Journal;
using Cardassay.Trials;
using Cardassay.Wire;
using Google.Protobuf;
using Grpc.Core;
using Microsoft.Extensions.Diagnostics.HealthChecks;

namespace Cardassay.Collector.Commands;

/// <summary>Answers the collector's own commands.</summary>
internal sealed partial class OperatorService(
    CollectorOptions options,
    IntakeDesk desk,
    Projection projection,
    RecordLog log,
    DeliverySessions sessions,
    BoardRegistry boards,
    ScheduleBook schedule,
    DutyDesk duties,
    EntryDesk entries,
    CardDirectory directory,
    TimeProvider time,
    ReportDesk reports,
    SlotPreviews previews,
    TrustDesk trust,
    BackupDesk backups,
    CollectorStart start,
    LossBook losses,
    Rebuilder rebuilder,
    HealthCheckService health,
    Doorkeeper door,
    Notices.NoticeTroubles troubles,
    ReaderDesk readers) : V1.Operator.OperatorBase
{
    /// <summary>Longest reason a person can give, characters.</summary>
    private const int MaxReasonChars = 500;

    /// <inheritdoc/>
    public override async Task<V1.BoardList> ListBoards(V1.ListBoardsRequest request, ServerCallContext context) =>
        Boards(await LoadAsync(context.CancellationToken));

    private V1.BoardList Boards(MasterData data)
    {
        Dictionary<string, BoardState> live = boards.All().ToDictionary(b => b.Name, StringComparer.Ordinal);
        Func<string, bool> connected = sessions.Look().IsOpen;
        IReadOnlyDictionary<string, (string Trust, DateTimeOffset? EndsAt)> standing = trust.Standing();
        (IReadOnlyList<Storage.StoredMark> marks, CollectorsRegarded regarded) = projection.Read(
            store => (store.MarksOfAll(), CollectorsRegarded.Of(store.Events())));
        Func<string, string> shown = regarded.NamesOf(marks.Select(m => m.Board));
        var list = new V1.BoardList();
        foreach (string name in data.Boards.Select(b => b.Name).Union(live.Keys, StringComparer.Ordinal)
            .Union(standing.Keys, StringComparer.Ordinal).Order(StringComparer.Ordinal))
        {
            BoardRecord? known = data.Boards.FirstOrDefault(b => b.Name == name);
            live.TryGetValue(name, out BoardState? state);
            var board = new V1.Board
            {
                Name = name,
                Connected = connected(name),
                Records = (ulong)marks.Where(m => shown(m.Board) == name).Sum(m => m.Through),
                AgentVersion = state?.AgentVersion ?? "",
                BacklogRecords = (ulong)(state?.Backlog ?? 0),
                Trust = standing.TryGetValue(name, out (string Trust, DateTimeOffset? EndsAt) stands) ? stands.Trust : "plain text",
            };
            if (stands.EndsAt is { } ends)
            {
                board.CertificateEndsUnixNs = UnixTime.Ns(ends);
            }

            if ((state?.Model ?? known?.Model) is { } model)
            {
                board.Model = model;
            }

            if ((state?.LastSeen ?? known?.LastSeen) is { } seen)
            {
                board.LastSeenUnixNs = UnixTime.Ns(seen);
            }

            if (state is not null && !state.IsAway(time.GetUtcNow()))
            {
                V1.Board.Types.Progress_[] running = [.. state.Presence.Running()
                    .Select(p => new V1.Board.Types.Progress_ { Fraction = p.Fraction, SecondsLeft = p.SecondsLeft, Step = p.Step })];
                board.Progress = running.FirstOrDefault();
                board.Beside.AddRange(running.Skip(1));
            }

            board.SlotsAtOnce.AddRange(SlotLanes.Sentences(state?.Presence));
            foreach (V1.Slot slot in state?.Presence?.Slots ?? [])
            {
                RecognisedCard card = directory.Recognise(name, state!.Presence!, slot);
                board.Slots.Add($"{slot.DiskName} {slot.Identity}");
                board.Cards.Add(new V1.SlotCard
                {
                    DiskName = slot.DiskName,
                    Identity = slot.Identity,
                    IdentityFromRegisters = slot.IdentityFromRegisters,
                    DiskBytes = slot.DiskBytes,
                    Tag = card.Tag ?? "",
                    How = card.How,
                    AsksForTag = card.Tag is null && data.Runs.Any(r => r.Opened.Tag is null && IsInSlot(r, name, state.Presence!, slot)),
                });
            }

            list.Boards.Add(board);
        }

        return list;
    }

    /// <inheritdoc/>
    public override async Task<V1.CardList> ListCards(V1.ListCardsRequest request, ServerCallContext context) =>
        reports.Cards(await LoadAsync(context.CancellationToken), directory.OnMedia());

    /// <inheritdoc/>
    public override async Task<V1.ClaimsRecorded> RecordClaims(IAsyncStreamReader<V1.ClaimBatch> requestStream, ServerCallContext context)
    {
        V1.ClaimBatch request = await MessageParts.WholeAsync(requestStream, context.CancellationToken);
        foreach (V1.Claim message in request.Claims)
        {
            IReadOnlyList<string> problems;
            try
            {
                problems = ClaimCheck.Problems(ClaimCodec.FromMessage(message));
            }
            catch (WireFormatException e)
            {
                problems = [e.Message];
            }

            if (problems.Count > 0)
            {
                throw new RpcException(new Status(StatusCode.InvalidArgument, $"Card {message.Tag}: {problems[0]}"));
            }
        }

        await desk.RecordAsync(
            request.Claims.Select(c => new V1.IntakeEntry { OperatorEvent = new V1.OperatorEvent { Claim = c } }),
            context.CancellationToken);
        return new V1.ClaimsRecorded { Recorded = (uint)request.Claims.Count };
    }

    /// <inheritdoc/>
    public override async Task<V1.TagRecorded> GiveTag(V1.GiveTagRequest request, ServerCallContext context)
    {
        if (ClaimCheck.TagProblem(request.Tag) is { } problem)
        {
            throw new RpcException(new Status(StatusCode.InvalidArgument, $"--tag: {problem}"));
        }

        BoardState? state = boards.Find(request.Board);
        V1.Presence? presence = state?.Presence;
        if (presence?.Slots.FirstOrDefault(s => s.DiskName == request.DiskName) is not { } slot)
        {
            throw new RpcException(new Status(StatusCode.NotFound, presence is null
                ? $"--in: board {request.Board} has not reported since this collector started; see `boards`."
                : $"--in: board {request.Board} has no card in {request.DiskName}; it has "
                    + $"{(presence.Slots.Count == 0 ? "none" : string.Join(", ", presence.Slots.Select(s => s.DiskName)))}."));
        }

        V1.TagGiven given = CardReception.Given(request.Tag, state!, slot);
        await desk.RecordAsync([new V1.IntakeEntry { OperatorEvent = new V1.OperatorEvent { TagGiven = given } }],
            context.CancellationToken);
        directory.Learn(given);
        return new V1.TagRecorded { TagGiven = given };
    }

    /// <inheritdoc/>
    public override async Task<V1.CollectorStatus> GetStatus(V1.GetStatusRequest request, ServerCallContext context)
    {
        var status = new V1.CollectorStatus
        {
            Version = CollectorVersion.Text,
            StartedUnixNs = UnixTime.Ns(start.At),
            RecordsDuplicate = (ulong)desk.Counters.Duplicates,
            IntakeBytes = (ulong)log.UsedBytes,
            IntakeLastSequence = (ulong)log.LastSequence,
            DataFolder = options.DataFolder,
            ReceivedSinceStart = (ulong)desk.Counters.Received,
            ConflictsSinceStart = (ulong)desk.Counters.Conflicts,
            SkippedSinceStart = (ulong)desk.Counters.Gaps,
            MissingSinceStart = (ulong)desk.Counters.Missing,
            BacklogRecords = (ulong)boards.All().Sum(b => b.Backlog),
            IntakeFullness = log.Fullness,
            StoreState = projection.State,
            StoreProblem = projection.Failure?.Message ?? "",
        };
        (int open, Func<string, bool> isOpen) = sessions.Look();
        status.BoardsConnected = (uint)open;
        status.BoardsPresent.AddRange(boards.All().Select(b => b.Name).Where(isOpen));
        status.Schedule = duties.Show();
        status.Backup = backups.Line();
        if (backups.AgeSeconds() is { } age)
        {
            status.BackupAgeSeconds = age;
        }

        await AddDataAsync(status, context.CancellationToken);
        HealthReport healthNow = await health.CheckHealthAsync(context.CancellationToken);
        status.Ready = healthNow.Status != HealthStatus.Unhealthy;
        status.Health.AddRange(healthNow.Entries.Select(e => $"{e.Key}: {e.Value.Description ?? e.Value.Exception?.Message}"));
        status.NeedsPerson.AddRange(CardLadder.Asks(status.Schedule.Steps));
        status.NeedsPerson.AddRange(backups.NeedsPerson());
        status.NeedsPerson.AddRange(troubles.Lines);
        status.NeedsPerson.AddRange(door.State().Sentence is { } full ? [full] : []);
        if (log.IsMoved)
        {
            status.NeedsPerson.Insert(0, $"Intake log: {IntakeHealth.Moved(options.IntakeFolder)}");
        }

        if (options.Store != StoreChoice.LiteDb)
        {
            status.Notes.Add($"The results are in {options.Store.Name}.");
        }

        status.Notes.AddRange(log.Recovery.Cuts.Select(c => $"At start {c.Bytes} bytes of an unfinished write were cut from {c.File}.")
            .Concat(log.Recovery.SetAside.Select(s => $"The segment {s.File} is damaged; what can be read of it is read.")));
        return status;
    }

    /// <summary>What only the store can say; without it the rest of the answer is as true.</summary>
    private async Task AddDataAsync(V1.CollectorStatus status, CancellationToken cancellationToken)
    {
        try
        {
            ApplyLag lag = projection.Lag(); // before the load below waits for it to be caught up
            status.ApplyLagEntries = (ulong)lag.Entries;
            status.ApplyLagSeconds = lag.Age.TotalSeconds;
            await losses.WriteDownAsync(cancellationToken);
            MasterData data = await LoadAsync(cancellationToken);
            status.RecordsReceived = (ulong)data.Integrity.Received;
            status.Gaps = (ulong)data.Integrity.Gaps;
            status.Conflicts = (ulong)data.Integrity.Conflicts;
            status.EntriesLost = (ulong)data.Integrity.EntriesLost;
            status.EntriesOnlyStored = (ulong)data.Integrity.EntriesOnlyStored;
            status.AppliedSequence = (ulong)projection.Position.Sequence;
            status.Boards.AddRange(Boards(data).Boards);
            status.BoardsKnown = (uint)status.Boards.Count(b => b.Trust != "invited" || b.Records > 0);
            status.NeedsPerson.AddRange(reports.NeedsPerson(data));
            previews.Look(data);
            previews.AddTo(status.Schedule.Steps);
            status.NeedsPerson.AddRange(
                status.Boards.SelectMany(
                    b => b.Cards.Where(
                        c => c.AsksForTag && status.Schedule.Steps.All(s => s.Board != b.Name || s.DiskName != c.DiskName)).Select(c =>
                $"{b.Name}: The card {c.Identity} in {c.DiskName} was measured and has no tag. {c.How} Put a sticker "
                    + $"on it and say `cards --in {b.Name}/{c.DiskName} --tag TAG`.")));
        }
        catch (StoreUnavailableException e)
        {
            status.StoreState = projection.State is "following" or "catching up" ? "away" : projection.State;
            status.StoreProblem = projection.Failure?.Message ?? e.Message;
            status.BoardsKnown = (uint)boards.All().Select(b => b.Name)
                .Union(trust.Standing().Where(s => s.Value.Trust != "invited").Select(s => s.Key), StringComparer.Ordinal).Count();
            status.NeedsPerson.Add($"Database: {status.StoreProblem} Boards are received and have their receipts; "
                + "counts and findings are missing here until it can be used.");
        }
        catch (Exception e) when (e is LogDiskFullException or LogMovedException)
        {
            status.NeedsPerson.Add($"Intake log: {e.Message}");
        }
    }

    /// <inheritdoc/>
    public override async Task RenderReport(
        V1.ReportRequest request, IServerStreamWriter<V1.ReportPart> responseStream, ServerCallContext context)
    {
        DateTimeOffset? asOf = request.HasAsOfUnixNs ? MasterDataLoader.Time(request.AsOfUnixNs) : null;

        // Where the master data are not kept, they are let go of before the writing begins: the model holds what it needs of them.
        ReadyReport report = await projection.ReadCaughtUpAsync(
            store => projection.Load(store, asOf), data => Refused(() => reports.Render(data, request)), context.CancellationToken);
        await report.WriteAsync(new ReportParts(responseStream), context.CancellationToken);
    }

    /// <inheritdoc/>
    public override Task<V1.Rebuilt> Rebuild(V1.RebuildRequest request, ServerCallContext context) =>
        rebuilder.RunAsync(request, context.CancellationToken);

    /// <inheritdoc/>
    public override async Task<V1.FindingAcknowledged> Acknowledge(V1.AcknowledgeRequest request, ServerCallContext context)
    {
        string reason = request.Reason.Trim();
        if (reason.Length is 0 or > MaxReasonChars || reason.Any(char.IsControl))
        {
            throw new RpcException(new Status(StatusCode.InvalidArgument,
                $"--reason: say in 1 to {MaxReasonChars} characters on one line why it needs nobody any more."));
        }

        MasterData data = await LoadAsync(context.CancellationToken);
        Finding finding = data.IntakeFindings.FirstOrDefault(f => FindingKey.Of(f) == request.Key)
            ?? throw new RpcException(
                new Status(StatusCode.NotFound, $"--acknowledge: there is no finding {request.Key}; `status` names those there are."));
        var said = new V1.FindingAcknowledged { Key = request.Key, Reason = reason, Text = finding.Text };
        await desk.RecordAsync([new V1.IntakeEntry { OperatorEvent = new V1.OperatorEvent { Acknowledged = said } }],
            context.CancellationToken);
        return said;
    }

    /// <inheritdoc/>
    public override Task<V1.InvitationMade> Invite(V1.InviteRequest request, ServerCallContext context) =>
        Refused(() => trust.InviteAsync(request, context.CancellationToken));

    /// <inheritdoc/>
    public override Task<V1.BackupAnswer> Backup(V1.BackupRequest request, ServerCallContext context) =>
        Refused(() => backups.RunAsync(request, context.CancellationToken));

    /// <inheritdoc/>
    public override async Task<V1.BoardChecked> CheckBoard(V1.CheckBoardRequest request, ServerCallContext context)
    {
        MasterData data = await LoadAsync(context.CancellationToken);
        V1.BoardChecked done = Refused(() => reports.Check(data, request.Board));
        if (SlotLanes.Sentences(boards.Find(request.Board)?.Presence) is { Count: > 0 } sentences)
        {
            done.Looks.Add(new V1.BoardLook
            {
                What = "cards at a time", Word = BoardsCommand.WordOf(Analysis.CrossChecks.BoardCheckWord.NothingAgainst),
                Text = string.Join(' ', sentences),
            });
        }

        return done;
    }

    /// <inheritdoc/>
    public override Task<V1.BoardShutOut> RevokeBoard(V1.RevokeRequest request, ServerCallContext context) =>
        Refused(() => trust.RevokeAsync(request.Board, context.CancellationToken));

    /// <summary>Whether a run was made on the medium that is in the slot, since it was put in.</summary>
    private static bool IsInSlot(RunRecord run, string board, V1.Presence presence, V1.Slot slot) =>
        run.Board == board && run.Opened.DiskName == slot.DiskName && slot.HasDiskSequence && run.Opened.DiskSequence == slot.DiskSequence
        && Guid.TryParse(run.Opened.BootId, out Guid boot) && presence.BootId.Span.SequenceEqual(boot.ToByteArray(bigEndian: true));

    /// <summary>Turns what a person asked wrongly into the answer of the call.</summary>
    private static T Refused<T>(Func<T> work)
    {
        try
        {
            return work();
        }
        catch (CommandException e)
        {
            throw new RpcException(new Status(StatusCode.InvalidArgument, e.Message));
        }
    }

    /// <inheritdoc cref="Refused{T}(Func{T})"/>
    private static async Task<T> Refused<T>(Func<Task<T>> work)
    {
        try
        {
            return await work();
        }
        catch (CommandException e)
        {
            throw new RpcException(new Status(StatusCode.InvalidArgument, e.Message));
        }
    }

    private Task<MasterData> LoadAsync(CancellationToken cancellationToken, DateTimeOffset? asOf = null) =>
        projection.ReadCaughtUpAsync(store => projection.Load(store, asOf), cancellationToken);
}
