using Cardassay.Collector.Analysis;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Storage;
using Grpc.Core;

namespace Cardassay.Collector.Commands;

/// <summary>What boards are to do.</summary>
internal sealed partial class OperatorService
{
    /// <inheritdoc/>
    public override async Task<V1.PlanRunAnswer> PlanRun(V1.PlanRunRequest request, ServerCallContext context)
    {
        ConsideredEntry considered = await entries.ConsiderAsync(request.Entry, request.Later, Delivered(), context.CancellationToken);
        if (considered.Refusal is { } refusal)
        {
            throw new RpcException(new Status(StatusCode.FailedPrecondition, refusal));
        }

        var answer = new V1.PlanRunAnswer
        {
            Entry = considered.Entry,
            Withdrawn = (uint)schedule.Entries().Count(e => ScheduleBook.Replaces(considered.Entry, e.Schedule)),
        };
        answer.Notes.AddRange(considered.Notes);
        if (!request.DryRun)
        {
            await RecordAsync(considered.Entry, context.CancellationToken);
        }

        V1.ScheduleList all = duties.Show();
        answer.Schedule = new V1.ScheduleList { NowUnixNs = all.NowUnixNs };
        foreach ((V1.ScheduleState state, V1.NightLine line) in all.Entries.Zip(all.Night)
            .Where(e => e.First.Entry.Board == considered.Entry.Board))
        {
            answer.Schedule.Entries.Add(state);
            answer.Schedule.Night.Add(line);
        }

        answer.Schedule.Steps.AddRange(all.Steps.Where(s => s.Board == considered.Entry.Board));

        return answer;
    }

    /// <summary>Sets an entry as it stands; `schedule` asks with <see cref="PlanRun"/>, which checks more.</summary>
    public override async Task<V1.ScheduleSet> SetSchedule(V1.ScheduleEntry request, ServerCallContext context)
    {
        if (BoardNames.Clean(request.Board) != request.Board || request.Board.Length == 0)
        {
            throw new RpcException(new Status(StatusCode.InvalidArgument, $"\"{request.Board}\" is not a board's name; see `boards`."));
        }

        if (ScheduleCheck.Problem(request, time.GetUtcNow()) is { } problem)
        {
            throw new RpcException(new Status(StatusCode.InvalidArgument, problem));
        }

        V1.ScheduleEntry entry = request.Clone();
        entry.ScheduleId = "";
        return new V1.ScheduleSet { Entry = await RecordAsync(entry, context.CancellationToken) };
    }

    private async Task<V1.ScheduleEntry> RecordAsync(V1.ScheduleEntry asked, CancellationToken cancellationToken)
    {
        V1.ScheduleEntry entry = asked.Clone();
        entry.ScheduleId = entry.ScheduleId.Length > 0 ? entry.ScheduleId : Guid.NewGuid().ToString("N")[..12];
        var recorded = new V1.IntakeEntry { OperatorEvent = new V1.OperatorEvent { Schedule = entry } };
        await desk.RecordAsync([recorded], cancellationToken);
        schedule.Set(entry, MasterDataLoader.Time(recorded.ReceivedUnixNs));
        return entry;
    }

    /// <inheritdoc/>
    public override async Task<V1.ScheduleList> GetSchedule(V1.GetScheduleRequest request, ServerCallContext context)
    {
        V1.ScheduleList list = duties.Show();
        try
        {
            if (list.Steps.Count > 0)
            {
                previews.Look(await LoadAsync(context.CancellationToken));
            }
        }
        catch (StoreUnavailableException)
        {
            // What was found before it went away is shown.
        }

        previews.AddTo(list.Steps);
        return list;
    }

    /// <inheritdoc/>
    public override async Task<V1.SuggestedList> ScheduleSuggested(V1.SuggestedRequest request, ServerCallContext context)
    {
        (MasterData data, AnalysisResult analysis) = await ProposedAsync(request.Hours, request.Profile, context.CancellationToken);
        var list = new V1.SuggestedList();
        foreach ((V1.SuggestedRun run, V1.ScheduleEntry? entry) in SuggestedRuns.Of(data, analysis, request.Hours))
        {
            if (entry is not null && !request.DryRun)
            {
                await RecordAsync(entry, context.CancellationToken);
            }

            list.Runs.Add(run);
        }

        return list;
    }
}
