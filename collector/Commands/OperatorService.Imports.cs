using System.Globalization;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Exchange;
using Cardassay.Collector.Files;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Storage;
using Cardassay.Identity;
using Cardassay.Trials;
using Grpc.Core;

namespace Cardassay.Collector.Commands;

/// <summary>What comes into the collector by hand or from another one.</summary>
internal sealed partial class OperatorService
{
    /// <summary>Figures of one entry of the intake log; a long file comes in several.</summary>
    private const int FiguresOfAnEntry = 500;

    /// <inheritdoc/>
    public override async Task<V1.HandKeptRecorded> RecordHandKept(
        IAsyncStreamReader<V1.HandKeptRequest> requestStream, ServerCallContext context)
    {
        V1.HandKeptRequest request = await MessageParts.WholeAsync(requestStream, context.CancellationToken);
        HandKeptBook book = await BookAsync(context.CancellationToken);
        string hash = Convert.ToHexStringLower(request.Import.SourceSha256.Span);
        HandKeptBook.Import[] live = [.. book.Imports.Where(i => i.Counts)];
        HandKeptBook.Import[] older = request.Beside ? [] : [.. live.Where(i => i.Source == request.Import.Source && i.Origin.Length == 0)];
        if (live.Except(older).FirstOrDefault(i => i.SourceHash == hash) is { } before)
        {
            throw new RpcException(new Status(
                StatusCode.FailedPrecondition, $"This very file was imported already as {before.Id} ({before.Source}); to import it anew, first `import --undo {before.Id}`."));
        }

        Dictionary<(string, TrialKind, double, string), HandKeptBook.Import> elsewhere = [];
        foreach (HandKeptBook.Import import in live.Except(older))
        {
            foreach (V1.HandKeptFigure figure in import.Figures.Where(f => f.HasDay))
            {
                elsewhere[Key(figure)] = import;
            }
        }

        // Each known figure stands for one row only: a card measured twice with the same result has two.
        Dictionary<(string, TrialKind, double, string), Queue<V1.HandKeptFigure>> had =
            older.SelectMany(i => i.Figures).GroupBy(Key).ToDictionary(g => g.Key, g => new Queue<V1.HandKeptFigure>(g));
        DateOnly today = DateOnly.FromDateTime(MasterDataLoader.Time(desk.NowUnixNs()).UtcDateTime.AddDays(1)); // it may be tomorrow where the person is
        var answer = new V1.HandKeptRecorded();
        foreach (V1.HandKeptFigure figure in request.Import.Figures)
        {
            string day = figure.HasDay ? figure.Day : "";
            string? problem = HandKeptCheck.RowProblem(figure.Tag, day, today) ?? HandKeptCheck.FigureProblem((TrialKind)figure.Kind, figure.Value);
            if (problem is null && elsewhere.TryGetValue(Key(figure), out HandKeptBook.Import? other))
            {
                problem = $"The same figure of the same card and day is kept already, in import {other.Id} ({other.Source}).";
            }

            if (problem is null)
            {
                answer.Taken.Add(figure);
                answer.Known += had.TryGetValue(Key(figure), out Queue<V1.HandKeptFigure>? same) && same.TryDequeue(out _) ? 1u : 0u;
            }
            else
            {
                answer.Refused.Add(new V1.RefusedFigure { Line = figure.Line, Text = problem });
            }
        }

        answer.Gone.AddRange(had.Values.SelectMany(f => f));
        answer.Replaces.AddRange(older.Select(i => i.Id));
        if (!request.DryRun && answer.Taken.Count > 0 && (answer.Taken.Count > answer.Known || answer.Gone.Count > 0))
        {
            answer.ImportId = Guid.NewGuid().ToString("N")[..12];
            await desk.RecordAsync(
                answer.Taken.Chunk(FiguresOfAnEntry).Select(figures =>
                {
                    var part = new V1.HandKept { ImportId = answer.ImportId, Source = request.Import.Source, SourceSha256 = request.Import.SourceSha256 };
                    part.Replaces.AddRange(answer.Replaces);
                    part.Figures.AddRange(figures);
                    return new V1.IntakeEntry { OperatorEvent = new V1.OperatorEvent { HandKept = part } };
                }),
                context.CancellationToken);
        }

        return answer;
    }

    /// <inheritdoc/>
    public override async Task<V1.ImportList> ListImports(V1.ListImportsRequest request, ServerCallContext context)
    {
        var list = new V1.ImportList();
        list.Imports.AddRange((await BookAsync(context.CancellationToken)).Imports.Select(i => new V1.ImportDone
        {
            ImportId = i.Id, Source = i.Source, Figures = (uint)i.Figures.Count, AtUnixNs = i.AtUnixNs, Withdrawn = i.IsWithdrawn, Origin = i.Origin, ReplacedBy = i.ReplacedBy ?? "",
        }));
        list.Collectors.AddRange(await projection.ReadCaughtUpAsync(store => Held(store).ToArray(), context.CancellationToken));
        return list;
    }

    /// <inheritdoc/>
    public override async Task<V1.Withdrawn> WithdrawImport(V1.ImportWithdrawn request, ServerCallContext context)
    {
        HandKeptBook.Import import = (await BookAsync(context.CancellationToken)).Imports.FirstOrDefault(i => i.Id == request.ImportId)
            ?? throw new RpcException(new Status(StatusCode.NotFound, $"There is no import \"{request.ImportId}\"; see `import --list`."));
        if (import.IsWithdrawn)
        {
            throw new RpcException(new Status(StatusCode.FailedPrecondition, $"The import {import.Id} ({import.Source}) was taken back already."));
        }

        if (import.ReplacedBy is { } newer)
        {
            throw new RpcException(new Status(StatusCode.FailedPrecondition, $"The import {import.Id} ({import.Source}) counts no more, since {newer} took its place; `import --undo {newer}` brings it back."));
        }

        await desk.RecordAsync([new V1.IntakeEntry { OperatorEvent = new V1.OperatorEvent { ImportWithdrawn = request } }], context.CancellationToken);
        return new V1.Withdrawn { Figures = (uint)import.Figures.Count };
    }

    /// <inheritdoc/>
    public override async Task<V1.Merged> MergeEntries(IAsyncStreamReader<V1.MergePart> requestStream, ServerCallContext context)
    {
        // On the disk until all are here: what another collector holds need not fit into memory, and of an export that turns out damaged nothing is taken.
        using EntrySpool entries = EntrySpool.In(options.IsForReading ? Scratch.Folder : options.DataFolder);
        string origin = "";
        bool dryRun = false, sameStickers = false;
        await foreach (V1.MergePart part in requestStream.ReadAllAsync(context.CancellationToken))
        {
            origin = part.Origin.Length > 0 ? part.Origin : origin;
            dryRun |= part.DryRun;
            sameStickers |= part.SameStickers;
            CheckRoom(entries);
            foreach (V1.IntakeEntry entry in part.Entries)
            {
                entries.Add(entry);
            }
        }

        if (origin.Length == 0 || BoardNames.Clean(origin) != origin)
        {
            throw new RpcException(new Status(
                StatusCode.InvalidArgument, $"\"{origin}\" cannot name a collector: use letters, digits, - _ and dots. Give another name with --as."));
        }

        MergePlan plan;
        V1.CollectorRegarded? regarded = null;
        try
        {
            plan = await projection.ReadCaughtUpAsync(
                store =>
                {
                    var found = MergePlan.Of(store, entries, origin, desk.NowUnixNs());
                    regarded = NewlyRegarded(store, origin, sameStickers);
                    found.Summary.Changes.AddRange(CardChanges.Between(store, [.. Said(regarded)], found.Entries));
                    return found;
                },
                context.CancellationToken);
        }
        catch (EvidenceException e)
        {
            throw new RpcException(new Status(StatusCode.InvalidArgument, e.Message));
        }

        if (!dryRun)
        {
            await desk.RecordAsync(Said(regarded), context.CancellationToken);
            await desk.MergeAsync(plan, context.CancellationToken);
        }

        return plan.Summary;
    }

    /// <inheritdoc/>
    public override async Task<V1.CollectorHeld> RegardCollector(V1.CollectorRegarded request, ServerCallContext context)
    {
        V1.CollectorHeld held = await projection.ReadCaughtUpAsync(
            store =>
            {
                V1.CollectorHeld known = Held(store).FirstOrDefault(h => h.Collector == request.Collector)
                    ?? throw new RpcException(new Status(StatusCode.NotFound, $"Nothing here came from a collector \"{request.Collector}\"; see `import --list`."));
                if (known.TakenBack == request.TakenBack && known.SameStickers == request.SameStickers)
                {
                    throw new RpcException(new Status(StatusCode.FailedPrecondition, request.TakenBack
                        ? $"What came from {request.Collector} was taken back already; import its export again to bring it back."
                        : $"What came from {request.Collector} is regarded like that already."));
                }

                known.Changes.AddRange(CardChanges.Between(store, [.. Said(request)], []));
                return known;
            },
            context.CancellationToken);
        await desk.RecordAsync(Said(request), context.CancellationToken);
        return held;
    }

    /// <inheritdoc/>
    public override async Task<V1.CardsSaid> SayCards(V1.SameCard request, ServerCallContext context)
    {
        if ((ClaimCheck.NameProblem(request.Tag) ?? ClaimCheck.NameProblem(request.Other)) is { } problem)
        {
            throw new RpcException(new Status(StatusCode.InvalidArgument, problem));
        }

        if (TagOrigin.OriginOf(request.Tag) == TagOrigin.OriginOf(request.Other))
        {
            throw new RpcException(new Status(
                StatusCode.InvalidArgument, $"{request.Tag} and {request.Other} are stickers of one collector, where two stickers are two cards; name the other one's as TAG@COLLECTOR."));
        }

        V1.IntakeEntry[] said = [new V1.IntakeEntry { OperatorEvent = new V1.OperatorEvent { SameCard = request } }];
        var answer = new V1.CardsSaid();
        await projection.ReadCaughtUpAsync(
            store =>
            {
                HashSet<string> stickers = CardChanges.Stickers(store);
                if (new[] { request.Tag, request.Other }.FirstOrDefault(t => !stickers.Contains(t)) is { } unknown)
                {
                    string like = string.Join(", ", stickers.Where(s => s.StartsWith(unknown.Split('@')[0], StringComparison.Ordinal)).Order(StringComparer.Ordinal).Take(5));
                    throw new RpcException(new Status(StatusCode.NotFound, $"There is no card {unknown} here{(like.Length > 0 ? $"; there are {like}" : "; see `cards`")}."));
                }

                answer.Changes.AddRange(CardChanges.Between(store, said, []));
                return 0;
            },
            context.CancellationToken);
        await desk.RecordAsync(said, context.CancellationToken);
        return answer;
    }

    /// <summary>What has to be said of a collector whose entries come in: that they count again, or whose its stickers are; null for nothing.</summary>
    private static V1.CollectorRegarded? NewlyRegarded(Storage.IRecordStore store, string origin, bool sameStickers)
    {
        var now = CollectorsRegarded.Of(store.Events());
        return now.IsTakenBack(origin) || (sameStickers && !now.SharesStickers(origin))
            ? new V1.CollectorRegarded { Collector = origin, SameStickers = sameStickers || now.SharesStickers(origin) }
            : null;
    }

    private static IEnumerable<V1.IntakeEntry> Said(V1.CollectorRegarded? regarded) =>
        regarded is null ? [] : [new V1.IntakeEntry { OperatorEvent = new V1.OperatorEvent { Regarded = regarded } }];

    /// <summary>The other collectors whose entries are here, by name.</summary>
    private static IEnumerable<V1.CollectorHeld> Held(Storage.IRecordStore store)
    {
        var regarded = CollectorsRegarded.Of(store.Events());
        ILookup<string, string> records = store.Records().Select(r => BoardOrigin.Split(r.Board).Origin).Where(o => o.Length > 0).ToLookup(o => o);
        ILookup<string, string> notes = store.Events().Select(CollectorsRegarded.OriginOf).Where(o => o.Length > 0).ToLookup(o => o);
        return records.Concat(notes).Select(g => g.Key).Distinct().Order(StringComparer.Ordinal).Select(o => new V1.CollectorHeld
        {
            Collector = o, Records = (ulong)records[o].Count(), Notes = (ulong)notes[o].Count(), TakenBack = regarded.IsTakenBack(o), SameStickers = regarded.SharesStickers(o),
        });
    }

    /// <summary>An import must not take the room that receiving needs.</summary>
    private void CheckRoom(EntrySpool entries)
    {
        const long keptFree = 256L << 20;
        if (new DriveInfo(options.DataFolder).AvailableFreeSpace < keptFree)
        {
            throw new RpcException(new Status(StatusCode.FailedPrecondition, string.Create(
                CultureInfo.InvariantCulture,
                $"After {entries.Count} entries the disk of {options.DataFolder} has less than 256 MiB left, which receiving needs: make room, then import again. Nothing was taken over.")));
        }
    }

    private static (string, TrialKind, double, string) Key(V1.HandKeptFigure figure) =>
        (figure.Tag, (TrialKind)figure.Kind, figure.Value, figure.HasDay ? figure.Day : "");

    private Task<HandKeptBook> BookAsync(CancellationToken cancellationToken) => projection.ReadCaughtUpAsync(
        store =>
        {
            var book = new HandKeptBook();
            var regarded = CollectorsRegarded.Of(store.Events());
            foreach (Storage.StoredEvent e in store.Events().Where(e => e.FromOperator && !regarded.IsTakenBack(CollectorsRegarded.OriginOf(e))))
            {
                book.Add(V1.OperatorEvent.Parser.ParseFrom(e.Payload), e.AtUnixNs);
            }

            return book;
        },
        cancellationToken);
}
