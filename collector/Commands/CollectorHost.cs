using System.Net;
using System.Security.Cryptography.X509Certificates;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Live;
using Cardassay.Collector.Observability;
using Cardassay.Collector.Storage;
using Cardassay.Journal;
using Cardassay.Wire;
using Microsoft.AspNetCore.Connections;
using Microsoft.AspNetCore.Server.Kestrel.Core;
using Microsoft.AspNetCore.Server.Kestrel.Https;
using Serilog;

namespace Cardassay.Collector.Commands;

/// <summary>
/// One collector: intake log, store and services. `serve` runs it with listeners for boards; every other command runs it with
/// nothing but the operator's socket when no collector is running on the folder, so that there is one way of doing things.
/// </summary>
internal sealed class CollectorHost : IAsyncDisposable
{
    /// <summary>Longest message taken, bytes; a board's stay below 1 MiB.</summary>
    internal const int MaxMessageBytes = 2 << 20;

    private readonly WebApplication _app;
    private readonly RecordLog _log;
    /// <summary>
    /// Four times what a board's journal has: to end a segment takes three fsyncs during which nothing is appended, and a collector fills one
    /// in a fraction of a second when boards come back. A damaged one is still read as far as it can be.
    /// </summary>
    private const long IntakeSegmentBytes = 16L << 20;

    private readonly GroupCommit _commit;
    private readonly Projection _projection;
    private readonly CollectorOptions _options;
    private readonly HostEvents _events;
    private readonly TaskCompletionSource _syncFailed = new(TaskCreationOptions.RunContinuationsAsynchronously);

    private readonly Lazy<Authority> _authority;
    private readonly RefusalLog _refusals;
    private readonly IDisposable _lines;
    private readonly LossBook _losses;

    private CollectorHost(
        WebApplication app, RecordLog log, GroupCommit commit, Projection projection, CollectorOptions options, Lazy<Authority> authority,
        RefusalLog refusals, IDisposable lines, LossBook losses)
    {
        _losses = losses;
        _refusals = refusals;
        _lines = lines;
        _authority = authority;
        _app = app;
        _log = log;
        _commit = commit;
        _projection = projection;
        _options = options;
        _events = new HostEvents(app.Services.GetRequiredService<ILogger<CollectorHost>>());
    }

    /// <summary>Addresses in use.</summary>
    internal OpenDoors Addresses { get; private set; } = new();

    /// <summary>What the host is made of.</summary>
    internal IServiceProvider Services => _app.Services;

    /// <summary>Ends when an fsync of the intake log has failed: the process must end, and soon.</summary>
    internal Task SyncFailed => _syncFailed.Task;

    /// <summary>Opens the folder and starts the services.</summary>
    /// <exception cref="LogInUseException">Another collector runs on the folder.</exception>
    /// <exception cref="CommandException">The folder or an address cannot be used.</exception>
    internal static async Task<CollectorHost> StartAsync(CollectorOptions options, TimeProvider time, CancellationToken cancellationToken)
    {
        DateTimeOffset started = time.GetUtcNow();
        LogAndStore data = OpenData(options);
        RecordLog log = data.Log;
        Projection? projection = null;
        GroupCommit? commit = null;
        LossBook? losses = null;
        WebApplication? app = null;
        Serilog.Core.Logger lines = Logging.Create(options, time);
        RefusalLog? refusals = null;
        TrustBook? book = null;
        var authority = new Lazy<Authority>(() => Authority.OpenOrMake(options.AuthorityFile, time, book!.JoinedBoards()));
        try
        {
            WebApplicationBuilder builder = WebApplication.CreateSlimBuilder(new WebApplicationOptions { ApplicationName = "cardassay-collector" });
            builder.Logging.ClearProviders();
            builder.Services.AddSerilog(lines);
            builder.Services.Configure<HostOptions>(o => o.ShutdownTimeout = TimeSpan.FromSeconds(10));
            using ILoggerFactory early = LoggerFactory.Create(b => b.AddSerilog(lines));
            refusals = new RefusalLog(early.CreateLogger<RefusalLog>(), time);
            RefusalLog refused = refusals;
            builder.Services.AddGrpc(o =>
            {
                o.MaxReceiveMessageSize = MaxMessageBytes;
                o.Interceptors.Add<MessageInterceptor>();
                o.Interceptors.Add<ListenerInterceptor>();
                o.Interceptors.Add<StoreInterceptor>();
            });
            builder.Services.AddSingleton(authority);
            builder.Services.AddSingleton(refusals);
            builder.Services.AddSingleton<CallFaults>();
            builder.Services.AddSingleton<CallLimits>();
            builder.Services.AddSingleton<EnrolmentGate>();
            builder.Services.AddSingleton<OpenDoors>();
            builder.Services.AddSingleton(time);
            builder.Services.AddSingleton(options);
            builder.Services.AddSingleton(log);

            projection = new Projection(log, data.Place, early.CreateLogger<Projection>(), time);
            if (options.CatchUpAtStart)
            {
                projection.CatchUp();
            }

            commit = new GroupCommit(log);
            var desk = new IntakeDesk(log, commit, projection, time, BootId());
            losses = new LossBook(data, desk, projection);
            try
            {
                await losses.WriteDownAsync(cancellationToken);
            }
            catch (LogDiskFullException)
            {
                // A full disk keeps nobody from starting; `status` tries again, and until then the log tells it at each start.
            }

            if (options.CatchUpAtStart)
            {
                projection.CatchUp();
            }

            LossBook lost = losses;
            projection.WriteDown = lost.WriteDownAsync;
            builder.Services.AddSingleton(losses);
            builder.Services.AddSingleton(new CollectorStart(started));
            IStorePlace? movedFrom = options.MovedFrom?.At(options.DatabasePath, data.Name);
            builder.Services.AddSingleton(services => new Rebuilder(lost, desk, services.GetRequiredService<Projection>(), folder => StoreChoice.LiteDb.At(Path.Combine(folder, "log-alone.db"), ""), movedFrom));
            builder.Services.AddSingleton(projection);
            builder.Services.AddSingleton(desk);
            var boards = new BoardRegistry(time);
            var cards = new CardDirectory(() => boards.All().Where(b => !b.IsAway(time.GetUtcNow())));
            IReadOnlyList<StoredEvent> own = projection.OwnEvents();
            if (options.Serves)
            {
                // Cards in the slots of boards are recognised; a command that only borrows the collector has no boards.
                projection.Mending(store =>
                {
                    RunReading.ReadTold(store, cards.Learn);
                    return true;
                });
                cards.Learn(own);
                projection.Applied += batch => cards.Learn(batch.Records);
            }

            builder.Services.AddSingleton(cards);
            builder.Services.AddSingleton(new ScheduleBook(own));
            builder.Services.AddSingleton(services => Duties(services, desk, services.GetRequiredService<Projection>()));
            builder.Services.AddHostedService<NightClerk>();
            builder.Services.AddSingleton<EntryDesk>();
            book = new TrustBook(own);
            builder.Services.AddSingleton(book);
            builder.Services.AddSingleton(new ReaderBook(own));
            builder.Services.AddSingleton<ReaderDesk>();
            builder.Services.AddSingleton<ReaderGate>();

            // Here, since who joined decides whether an authority may be made.
            X509Certificate2? page = options.PageIsForReaders ? PageCertificate.OpenOrMake(options.PageCertificateFile, authority.Value, options.Page!.Address, time.GetUtcNow()) : null;
            CollectorDoors.Open(builder, options, () => CollectorTls.Options(authority.Value, refused, time), page is null ? null : CollectorTls.PageOptions(page));
            builder.Services.AddSingleton(services => new Doorkeeper(
                services.GetRequiredService<TrustBook>(), time, entry => desk.RecordAsync([entry], CancellationToken.None), services.GetRequiredService<ILogger<Doorkeeper>>()));
            builder.Services.AddSingleton<DeliverySessions>();
            builder.Services.AddSingleton(boards);
            builder.Services.AddSingleton(services => new ReportDesk(() => History(services.GetRequiredService<Projection>())));
            builder.Services.AddSingleton<SlotPreviews>();
            builder.Services.AddSingleton<Notices.NoticeTroubles>();
            if (options.Serves && NotifyCommand.SettingsOf(options.DataFolder) is { } notices)
            {
                builder.Services.AddSingleton<Notices.Morning.IMorningReports, MorningMaker>();
                Notices.NoticeSetup.Add(builder.Services, notices, options.DataFolder, provider => provider.GetRequiredService<ReportDesk>().NeedsPerson);
            }

            builder.Services.AddSingleton(commit);
            Watching.Add(builder.Services, options);
            builder.Services.AddSingleton<PageEvents>();
            builder.Services.AddSingleton(services => new LiveDesk(
                () => PositionOf(services.GetRequiredService<Projection>()),
                () =>
                {
                    MasterData data = services.GetRequiredService<Projection>().Read(store => services.GetRequiredService<Projection>().Load(store));
                    services.GetRequiredService<SlotPreviews>().Look(data);
                    return services.GetRequiredService<ReportDesk>().Live(data);
                },
                () => LiveData.Boards(
                    boards, services.GetRequiredService<DeliverySessions>(), cards, services.GetRequiredService<DutyDesk>(), services.GetRequiredService<SlotPreviews>()),
                services.GetRequiredService<PageEvents>().TellUnread,
                time));
            builder.Services.AddSingleton<TrustDesk>();
            builder.Services.AddSingleton<BackupDesk>();
            builder.Services.AddHostedService(of => of.GetRequiredService<BackupDesk>());

            app = builder.Build();
            app.Use(app.Services.GetRequiredService<CallFaults>().WatchAsync);
            app.MapGrpcService<EnrolmentService>();
            app.MapGrpcService<DeliveryService>();
            app.MapGrpcService<BoardDeskService>();
            app.MapGrpcService<OperatorService>();
            LivePage.Map(app);
            Watching.Begin(app, options);
            projection.Start();
            var host = new CollectorHost(app, log, commit, projection, options, authority, refusals, lines, losses);
            await app.StartAsync(cancellationToken);
            host.Addresses = app.Services.GetRequiredService<OpenDoors>();
            host.Addresses.Fill(app.Urls, options);
            host.Addresses.PageFingerprint = page is null ? null : PageCertificate.Fingerprint(page);
            if (!OperatingSystem.IsWindows())
            {
                const UnixFileMode owner = UnixFileMode.UserRead | UnixFileMode.UserWrite;
                File.SetUnixFileMode(options.SocketPath, owner);
                if (options.GroupSocket is { } ofGroup)
                {
                    File.SetUnixFileMode(ofGroup, owner | UnixFileMode.GroupRead | UnixFileMode.GroupWrite);
                }
            }

            _ = host.WatchDiskAsync();
            host._events.TellStart(log.Recovery, options.DataFolder);
            return host;
        }
        catch (Exception e)
        {
            if (app is not null)
            {
                await app.DisposeAsync();
            }

            if (commit is not null)
            {
                await commit.DisposeAsync();
            }

            if (projection is not null)
            {
                await projection.DisposeAsync();
            }

            losses?.Dispose();
            log.Dispose();
            (data.Place as IDisposable)?.Dispose();
            refusals?.Dispose();
            await lines.DisposeAsync();
            if (e is StoreUnavailableException)
            {
                throw new CommandException(e.Message);
            }

            if (e is IOException or System.Net.Sockets.SocketException)
            {
                throw new CommandException($"The collector cannot listen: {e.Message.TrimEnd('.')}. Choose another port with --listen, --plain-text or --page.");
            }

            throw;
        }
    }

    /// <summary>
    /// Says whether the intake goes on, call after call: everything received is on the disk and in the store, or more is than at the
    /// call before. A disk that takes nothing any more, or a store that stands still, is no progress.
    /// </summary>
    internal Func<bool> Progress()
    {
        (long Durable, IntakePosition Applied) seen = default;
        return () =>
        {
            long last = _log.LastSequence;
            (long Durable, IntakePosition Applied) now;
            try
            {
                now = (_log.DurableSequence, _projection.Position);
            }
            catch (StoreUnavailableException)
            {
                return false;
            }

            bool diskGoesOn = now.Durable >= last || now.Durable != seen.Durable;
            bool storeGoesOn = last == 0 || now.Applied == new IntakePosition(_log.Epoch.ToString(), now.Durable) || now.Applied != seen.Applied;
            seen = now;
            return diskGoesOn && storeGoesOn;
        };
    }

    /// <summary>Begins an orderly stop.</summary>
    internal void Stop() => _app.Lifetime.StopApplication();

    /// <summary>Runs until told to stop.</summary>
    internal Task WaitAsync() => _app.WaitForShutdownAsync();

    public async ValueTask DisposeAsync()
    {
        _events.TellStop();
        await _app.StopAsync();
        await _app.DisposeAsync();
        await _commit.DisposeAsync();
        await _projection.DisposeAsync();
        _losses.Dispose();
        _log.Dispose();
        (_losses.Data.Place as IDisposable)?.Dispose();
        if (_authority.IsValueCreated)
        {
            _authority.Value.Dispose();
        }

        File.Delete(_options.SocketPath);
        if (_options.GroupSocket is { } ofGroup)
        {
            File.Delete(ofGroup);
        }

        _refusals.Dispose();
        _lines.Dispose(); // last: what is told until now is written
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
            (tag, cancellationToken) => projection.ReadCaughtUpAsync(store => projection.Load(store), data => reports.IsSettled(data, tag), cancellationToken),
            services.GetRequiredService<TimeProvider>());
    }

    /// <exception cref="LogInUseException">Another collector runs on the folder.</exception>
    /// <exception cref="CommandException">The folder, the log or the store cannot be used.</exception>
    private static LogAndStore OpenData(CollectorOptions options)
    {
        var log = new LogOptions
        {
            MaxBytes = 0,
            SegmentBytes = IntakeSegmentBytes,
            SchemaVersion = ProtocolVersion.Schema,
            NewEpoch = () => new LogEpoch(Guid.NewGuid()),
            RequireInPlace = true,
        };
        var reading = RealLogDisk.ForReading(options.IntakeFolder);
        string? name = StoreMemory.ReadName(options.StoreFolder);
        RefuseOpenFolders(options);
        try
        {
            if (options.IsForReading)
            {
                return LogAndStore.OpenForReading(reading, n => options.Store.At(options.DatabasePath, n), name, log);
            }

            LogAndStore data = LogAndStore.OpenForWriting(
                () =>
                {
                    OpenFolders(options);
                    return new RealLogDisk(options.IntakeFolder);
                },
                reading,
                n => options.Store.At(options.DatabasePath, n),
                name,
                log,
                options.MayBeginAnew);
            StoreMemory.WriteName(options.StoreFolder, data.Name);
            return data;
        }
        catch (Exception e) when (e is LogMissingException or StoreUnavailableException)
        {
            throw new CommandException(e.Message);
        }
    }

    private static void OpenFolders(CollectorOptions options)
    {
        const UnixFileMode ownerOnly = UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.UserExecute;
        try
        {
            foreach (string folder in (string[])
                [options.DataFolder, options.IntakeFolder, Path.GetDirectoryName(options.DatabasePath)!, Path.GetDirectoryName(options.SocketPath)!])
            {
                if (OperatingSystem.IsWindows())
                {
                    Directory.CreateDirectory(folder);
                }
                else if (!Directory.Exists(folder))
                {
                    Directory.CreateDirectory(folder, ownerOnly);
                }
            }
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new CommandException($"The data folder {options.DataFolder} cannot be used: {e.Message} Choose another with --data.");
        }
    }

    /// <summary>What everybody can write into is no evidence, neither for a command that only reads it.</summary>
    /// <exception cref="CommandException">A folder is open to everyone.</exception>
    private static void RefuseOpenFolders(CollectorOptions options)
    {
        string? open = ((string[])[options.DataFolder, options.IntakeFolder, Path.GetDirectoryName(options.DatabasePath)!, Path.GetDirectoryName(options.AuthorityFile)!])
            .Select(PrivateFile.OpenToEveryone).FirstOrDefault(problem => problem is not null);
        if (open is not null)
        {
            throw new CommandException(open);
        }
    }

    private async Task WatchDiskAsync()
    {
        // A failed fsync is final: the kernel has marked the pages clean, a second try would lie. End and replay.
        LogFsyncException failed = await _log.Failed;
        _events.TellSyncFailed(failed.Message);
        _syncFailed.TrySetResult();
        _app.Lifetime.StopApplication();
    }

    private static Guid BootId()
    {
        try
        {
            return Guid.Parse(File.ReadAllText("/proc/sys/kernel/random/boot_id").Trim());
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or FormatException)
        {
            return Guid.Empty;
        }
    }
}
