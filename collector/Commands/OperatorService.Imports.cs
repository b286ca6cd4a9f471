using System.Globalization;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Intake;
using Cardassay.Trials;
using Grpc.Core;

namespace Cardassay.Collector.Commands;

/// <summary>What comes into the collector by hand or from another one.</summary>
internal sealed partial class OperatorService
{
    /// <summary>Figures of one entry of the intake log; a long file comes in several.</summary>
    private const int FiguresOfAnEntry = 500;

    /// <inheritdoc/>
    public override async Task<V1.HandKeptRecorded> RecordHandKept(V1.HandKeptRequest request, ServerCallContext context)
    {
        HandKeptBook book = await BookAsync(context.CancellationToken);
        string hash = Convert.ToHexStringLower(request.Import.SourceSha256.Span);
        if (book.Imports.FirstOrDefault(i => !i.IsWithdrawn && i.SourceHash == hash) is { } before)
        {
            throw new RpcException(new Status(
                StatusCode.FailedPrecondition, $"This very file was imported already as {before.Id} ({before.Source}); to import it anew, first `import --undo {before.Id}`."));
        }

        HashSet<(string, TrialKind, double, DateOnly)> kept =
            [.. book.Results().Where(r => r.Day is not null).Select(r => (r.Tag, r.Kind, r.Value, r.Day!.Value))];
        DateOnly today = DateOnly.FromDateTime(MasterDataLoader.Time(desk.NowUnixNs()).UtcDateTime.AddDays(1)); // it may be tomorrow where the person is
        var answer = new V1.HandKeptRecorded();
        foreach (V1.HandKeptFigure figure in request.Import.Figures)
        {
            string day = figure.HasDay ? figure.Day : "";
            string? problem = HandKeptCheck.RowProblem(figure.Tag, day, today) ?? HandKeptCheck.FigureProblem((TrialKind)figure.Kind, figure.Value);
            if (problem is null && figure.HasDay && kept.Contains((figure.Tag, (TrialKind)figure.Kind, figure.Value, DateOnly.Parse(day, CultureInfo.InvariantCulture))))
            {
                problem = "The same figure of the same card and day is kept already.";
            }

            if (problem is null)
            {
                answer.Taken.Add(figure);
            }
            else
            {
                answer.Refused.Add(new V1.RefusedFigure { Line = figure.Line, Text = problem });
            }
        }

        if (!request.DryRun && answer.Taken.Count > 0)
        {
            answer.ImportId = Guid.NewGuid().ToString("N")[..12];
            await desk.RecordAsync(
                answer.Taken.Chunk(FiguresOfAnEntry).Select(figures =>
                {
                    var part = new V1.HandKept { ImportId = answer.ImportId, Source = request.Import.Source, SourceSha256 = request.Import.SourceSha256 };
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
            ImportId = i.Id, Source = i.Source, Figures = (uint)i.Figures.Count, AtUnixNs = i.AtUnixNs, Withdrawn = i.IsWithdrawn, Origin = i.Origin,
        }));
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

        await desk.RecordAsync([new V1.IntakeEntry { OperatorEvent = new V1.OperatorEvent { ImportWithdrawn = request } }], context.CancellationToken);
        return new V1.Withdrawn { Figures = (uint)import.Figures.Count };
    }

    /// <inheritdoc/>
    public override async Task<V1.Merged> MergeEntries(IAsyncStreamReader<V1.MergePart> requestStream, ServerCallContext context)
    {
        var entries = new List<V1.IntakeEntry>();
        string origin = "";
        bool dryRun = false;
        await foreach (V1.MergePart part in requestStream.ReadAllAsync(context.CancellationToken))
        {
            origin = part.Origin.Length > 0 ? part.Origin : origin;
            dryRun |= part.DryRun;
            entries.AddRange(part.Entries);
        }

        if (origin.Length == 0 || Collector.Boards.BoardRegistry.CleanName(origin) != origin)
        {
            throw new RpcException(new Status(
                StatusCode.InvalidArgument, $"\"{origin}\" cannot name a collector: use letters, digits, - _ and dots. Give another name with --as."));
        }

        MergePlan plan = await projection.ReadCaughtUpAsync(store => MergePlan.Of(store, entries, origin, desk.NowUnixNs()), context.CancellationToken);
        if (!dryRun)
        {
            await desk.MergeAsync(plan, context.CancellationToken);
        }

        return plan.Summary;
    }

    private Task<HandKeptBook> BookAsync(CancellationToken cancellationToken) => projection.ReadCaughtUpAsync(
        store =>
        {
            var book = new HandKeptBook();
            foreach (Storage.StoredEvent e in store.Events().Where(e => e.FromOperator))
            {
                book.Add(V1.OperatorEvent.Parser.ParseFrom(e.Payload), e.AtUnixNs);
            }

            return book;
        },
        cancellationToken);
}
