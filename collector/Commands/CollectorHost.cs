using System.Net;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Live;
using Cardassay.Collector.Observability;
using Cardassay.Collector.Storage;
using Cardassay.Journal;
using Cardassay.Wire;
using Microsoft.AspNetCore.Server.Kestrel.Core;
using Serilog;

namespace Cardassay.Collector.Commands;

/// <summary>
/// One collector: intake log, store and services. `serve` runs it with listeners for boards; every other command runs it with
/// nothing but the operator's socket when no collector is running on the folder, so that there is one way of doing things.
/// </summary>
internal sealed class CollectorHost : IAsyncDisposable
{
    private readonly WebApplication _app;
    private readonly RecordLog _log;
    private readonly GroupCommit _commit;
    private readonly Projection _projection;
    private readonly CollectorOptions _options;
    private readonly HostEvents _events;

    private CollectorHost(WebApplication app, RecordLog log, GroupCommit commit, Projection projection, CollectorOptions options)
    {
        _app = app;
        _log = log;
        _commit = commit;
        _projection = projection;
        _options = options;
        _events = new HostEvents(app.Services.GetRequiredService<ILogger<CollectorHost>>());
    }

    /// <summary>Addresses in use, in the order boards, page; as text "127.0.0.1:7420".</summary>
    internal (string? Listen, string? Page) Addresses { get; private set; }

    /// <summary>True when the process had to stop because the disk no longer keeps what it is told.</summary>
    internal bool Failed { get; private set; }

    /// <summary>Fsyncs of the intake log since the start.</summary>
    internal long Flushes => _commit.Flushes;

    /// <summary>Opens the folder and starts the services.</summary>
    /// <exception cref="LogInUseException">Another collector runs on the folder.</exception>
    /// <exception cref="CommandException">The folder or an address cannot be used.</exception>
    internal static async Task<CollectorHost> StartAsync(CollectorOptions options, TimeProvider time, CancellationToken cancellationToken)
    {
        OpenFolders(options);
        RecordLog log = RecordLog.Open(new RealLogDisk(options.IntakeFolder), new LogOptions
        {
            MaxBytes = 0,
            SchemaVersion = ProtocolVersion.Schema,
            NewEpoch = () => new LogEpoch(Guid.NewGuid()),
        });
        Projection? projection = null;
        GroupCommit? commit = null;
        WebApplication? app = null;
        try
        {
            WebApplicationBuilder builder = WebApplication.CreateSlimBuilder(new WebApplicationOptions { ApplicationName = "cardassay-collector" });
            builder.Logging.ClearProviders();
            builder.Services.AddSerilog(configuration => Logging.Configure(configuration, options), preserveStaticLogger: true);
            builder.Services.Configure<HostOptions>(o => o.ShutdownTimeout = TimeSpan.FromSeconds(10));
            ConfigureListeners(builder, options);
            builder.Services.AddGrpc(o =>
            {
                o.MaxReceiveMessageSize = 2 << 20;
                o.Interceptors.Add<ListenerInterceptor>();
            });
            builder.Services.AddSingleton(time);
            builder.Services.AddSingleton(options);
            builder.Services.AddSingleton(log);

            using ILoggerFactory early = LoggerFactory.Create(b => b.AddSerilog(Logging.Create(options), dispose: true));
            string intakeLog = log.Epochs()[0].Epoch.ToString();
            projection = new Projection(
                log,
                () => options.Store.Open(options.DatabasePath, intakeLog),
                () => options.Store.Delete(options.DatabasePath, intakeLog),
                early.CreateLogger<Projection>(),
                time);
            if (options.CatchUpAtStart)
            {
                projection.CatchUp();
            }

            commit = new GroupCommit(log, time);
            var desk = new IntakeDesk(log, commit, projection, time, BootId());
            builder.Services.AddSingleton(projection);
            builder.Services.AddSingleton(desk);
            builder.Services.AddSingleton(new ScheduleBook(projection.OwnEvents()));
            builder.Services.AddSingleton<DeliverySessions>();
            builder.Services.AddSingleton<BoardRegistry>();
            builder.Services.AddSingleton<ReportDesk>();
            builder.Services.AddSingleton(commit);
            Watching.Add(builder.Services, options);
            builder.Services.AddSingleton<PageEvents>();
            builder.Services.AddSingleton(services => new LiveDesk(
                () => services.GetRequiredService<Projection>().Failure is null ? services.GetRequiredService<Projection>().Store.Applied : default,
                () => services.GetRequiredService<ReportDesk>().Live(services.GetRequiredService<Projection>().Read(store => MasterDataLoader.Load(store))),
                () => LiveData.Boards(services.GetRequiredService<BoardRegistry>(), services.GetRequiredService<DeliverySessions>()),
                services.GetRequiredService<PageEvents>().TellUnread,
                time));

            app = builder.Build();
            app.MapGrpcService<DeliveryService>();
            app.MapGrpcService<BoardDeskService>();
            app.MapGrpcService<OperatorService>();
            LivePage.Map(app);
            Watching.Begin(app, options);
            projection.Start();
            var host = new CollectorHost(app, log, commit, projection, options);
            await app.StartAsync(cancellationToken);
            host.Addresses = FindAddresses(app, options);
            if (!OperatingSystem.IsWindows())
            {
                File.SetUnixFileMode(options.SocketPath, UnixFileMode.UserRead | UnixFileMode.UserWrite);
            }

            host.WatchDisk();
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

            log.Dispose();
            if (e is StoreUnavailableException)
            {
                throw new CommandException(e.Message);
            }

            if (e is IOException)
            {
                throw new CommandException($"The collector cannot listen: {e.Message} Choose another port with --listen or --page.");
            }

            throw;
        }
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
        _log.Dispose();
        File.Delete(_options.SocketPath);
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

    private static void ConfigureListeners(WebApplicationBuilder builder, CollectorOptions options)
    {
        builder.WebHost.ConfigureKestrel(kestrel =>
        {
            kestrel.AddServerHeader = false;
            kestrel.Limits.Http2.KeepAlivePingDelay = TimeSpan.FromSeconds(20);
            kestrel.Limits.Http2.KeepAlivePingTimeout = TimeSpan.FromSeconds(10);
            File.Delete(options.SocketPath); // the folder's lock is ours: a socket left here is stale
            kestrel.ListenUnixSocket(options.SocketPath, listen =>
            {
                listen.Protocols = HttpProtocols.Http2;
                listen.Use(next => connection =>
                {
                    connection.Features.Set(new ListenerFeature(ListenerKind.Operator));
                    return next(connection);
                });
            });
            if (options.Listen is { } boards)
            {
                kestrel.Listen(boards, listen =>
                {
                    listen.Protocols = HttpProtocols.Http2;
                    listen.Use(next => connection =>
                    {
                        connection.Features.Set(new ListenerFeature(ListenerKind.Boards));
                        return next(connection);
                    });
                });
            }

            if (options.Page is { } page)
            {
                kestrel.Listen(page, listen =>
                {
                    listen.Protocols = HttpProtocols.Http1;
                    listen.Use(next => connection =>
                    {
                        connection.Features.Set(new ListenerFeature(ListenerKind.Page));
                        return next(connection);
                    });
                });
            }
        });
    }

    private static (string? Listen, string? Page) FindAddresses(WebApplication app, CollectorOptions options)
    {
        // Kestrel lists addresses in the order they were bound; a port of 0 has become a real one.
        var bound = new Queue<string>(app.Urls
            .Where(url => !url.Contains("unix:", StringComparison.Ordinal))
            .Select(url => new Uri(url).Authority));
        return (options.Listen is null ? null : bound.Dequeue(), options.Page is null ? null : bound.Dequeue());
    }

    private void WatchDisk() => _ = _commit.Completion.ContinueWith(
        done =>
        {
            // A failed fsync is final: the kernel has marked the pages clean, a second try would lie. End and replay.
            if (done.IsFaulted)
            {
                Failed = true;
                _events.TellSyncFailed(done.Exception!.InnerException!.Message);
                _app.Lifetime.StopApplication();
            }
        },
        TaskScheduler.Default);

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
