using Cardassay.Collector.Analysis;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Live;
using Cardassay.Collector.Observability;
using Cardassay.Collector.Storage;
using Serilog;

namespace Cardassay.Collector.Commands;

/// <summary>The services of a collector, over what is open.</summary>
internal static class CollectorServices
{
    internal static void Add(WebApplicationBuilder builder, CollectorParts parts, DateTimeOffset started)
    {
        builder.Logging.ClearProviders();
        builder.Services.AddSerilog(parts.Lines);
        builder.Services.Configure<HostOptions>(o => o.ShutdownTimeout = TimeSpan.FromSeconds(10));
        builder.Services.AddGrpc(o =>
        {
            o.MaxReceiveMessageSize = CollectorHost.MaxMessageBytes;
            o.Interceptors.Add<MessageInterceptor>();
            o.Interceptors.Add<ListenerInterceptor>();
            o.Interceptors.Add<StoreInterceptor>();
        });
        AddIntake(builder.Services, parts, started);
        AddBoards(builder.Services, parts);
        AddReading(builder.Services, parts);
        Watching.Add(builder.Services, parts.Options);
        builder.Services.AddSingleton<PageEvents>();
        builder.Services.AddSingleton<TrustDesk>();
        builder.Services.AddSingleton<BackupDesk>();
        builder.Services.AddHostedService(of => of.GetRequiredService<BackupDesk>());
    }

    private static void AddIntake(IServiceCollection services, CollectorParts parts, DateTimeOffset started)
    {
        services.AddSingleton(parts.Time);
        services.AddSingleton(parts.Options);
        services.AddSingleton(parts.Log);
        services.AddSingleton(parts.Losses);
        services.AddSingleton(parts.Projection);
        services.AddSingleton(parts.Desk);
        services.AddSingleton(parts.Commit);
        services.AddSingleton(new CollectorStart(started));
        IStorePlace? movedFrom = parts.Options.MovedFrom?.At(parts.Options.DatabasePath, parts.Data.Name);
        services.AddSingleton(new Rebuilder(parts.Losses, parts.Desk, parts.Projection,
            folder => StoreChoice.LiteDb.At(Path.Combine(folder, "log-alone.db"), ""), movedFrom));
        services.AddSingleton<DeliverySessions>();
    }

    private static void AddBoards(IServiceCollection services, CollectorParts parts)
    {
        services.AddSingleton(parts.Authority);
        services.AddSingleton(parts.Refusals);
        services.AddSingleton<CallFaults>();
        services.AddSingleton<CallLimits>();
        services.AddSingleton<EnrolmentGate>();
        services.AddSingleton<OpenDoors>();
        var boards = new BoardRegistry(parts.Time);
        var cards = new CardDirectory(() => boards.All().Where(b => !b.IsAway(parts.Time.GetUtcNow())));
        if (parts.Options.Serves)
        {
            // Cards in the slots of boards are recognised; a command that only borrows the collector has no boards.
            parts.Projection.Mending(store =>
            {
                RunReading.ReadTold(store, cards.Learn);
                return true;
            });
            cards.Learn(parts.Own);
            parts.Projection.Applied += batch => cards.Learn(batch.Records);
        }

        services.AddSingleton(boards);
        services.AddSingleton(cards);
        services.AddSingleton(new ScheduleBook(parts.Own));
        services.AddSingleton(of => Duties(of, parts.Desk, parts.Projection));
        services.AddHostedService<NightClerk>();
        services.AddSingleton<EntryDesk>();
        services.AddSingleton(parts.Trust);
        services.AddSingleton(new ReaderBook(parts.Own));
        services.AddSingleton<ReaderDesk>();
        services.AddSingleton<ReaderGate>();
        services.AddSingleton(of => new Doorkeeper(
            parts.Trust, parts.Time, entry => parts.Desk.RecordAsync([entry], CancellationToken.None),
            of.GetRequiredService<ILogger<Doorkeeper>>()));
    }

    /// <summary>What reads the data: the report, the page, and the notices a person gets.</summary>
    private static void AddReading(IServiceCollection services, CollectorParts parts)
    {
        Projection projection = parts.Projection;
        services.AddSingleton(new ReportDesk(() => History(projection)));
        services.AddSingleton<SlotPreviews>();
        services.AddSingleton<Notices.NoticeTroubles>();
        if (parts.Options.Serves && NotifyCommand.SettingsOf(parts.Options.DataFolder) is { } notices)
        {
            services.AddSingleton<Notices.Morning.IMorningReports, MorningMaker>();
            Notices.NoticeSetup.Add(services, notices, parts.Options.DataFolder, of => of.GetRequiredService<ReportDesk>().NeedsPerson);
        }

        services.AddSingleton(of => new LiveDesk(
            () => PositionOf(projection),
            () =>
            {
                MasterData data = projection.Read(store => projection.Load(store));
                of.GetRequiredService<SlotPreviews>().Look(data);
                return of.GetRequiredService<ReportDesk>().Live(data);
            },
            () => LiveData.Boards(
                of.GetRequiredService<BoardRegistry>(), of.GetRequiredService<DeliverySessions>(), of.GetRequiredService<CardDirectory>(),
                of.GetRequiredService<DutyDesk>(), of.GetRequiredService<SlotPreviews>()),
            of.GetRequiredService<PageEvents>().TellUnread,
            parts.Time));
    }

    /// <summary>Where the store stands; nowhere when it cannot be asked now, so that the page keeps what it had.</summary>
    private static IntakePosition PositionOf(Projection projection)
    {
        try
        {
            return projection.Position;
        }
        catch (StoreUnavailableException)
        {
            return default;
        }
    }

    /// <summary>The schedules of all collectors whose results are in the store, so that each of them writes the same report.</summary>
    private static IReadOnlyList<ScheduledEntry> History(Projection projection) => projection.Read(store =>
    {
        IReadOnlyList<StoredEvent> events = store.Events();
        Func<string, string> shown = CollectorsRegarded.Of(events).NamesOf(projection.Boards(store));
        return new ScheduleBook(events, (board, origin) => shown(BoardOrigin.Join(board, origin))).History;
    });

    private static DutyDesk Duties(IServiceProvider services, IntakeDesk desk, Projection projection)
    {
        ReportDesk reports = services.GetRequiredService<ReportDesk>();
        return new DutyDesk(
            services.GetRequiredService<BoardRegistry>(),
            services.GetRequiredService<ScheduleBook>(),
            services.GetRequiredService<CardDirectory>(),
            (entry, cancellationToken) => desk.RecordAsync([entry], cancellationToken),
            (tag, cancellationToken) =>
                projection.ReadCaughtUpAsync(store => projection.Load(store), data => reports.IsSettled(data, tag), cancellationToken),
            services.GetRequiredService<TimeProvider>());
    }
}
