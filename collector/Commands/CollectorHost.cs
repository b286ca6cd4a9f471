using System.Security.Cryptography.X509Certificates;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Observability;
using Cardassay.Collector.Storage;
using Cardassay.Journal;

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
    private readonly CollectorParts _parts;
    private readonly CollectorOptions _options;
    private readonly HostEvents _events;
    private readonly TaskCompletionSource _syncFailed = new(TaskCreationOptions.RunContinuationsAsynchronously);

    private CollectorHost(WebApplication app, CollectorParts parts, CollectorOptions options)
    {
        _app = app;
        _parts = parts;
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
        var parts = new CollectorParts(options, time);
        WebApplication? app = null;
        try
        {
            WebApplicationBuilder builder = WebApplication.CreateSlimBuilder(
                new WebApplicationOptions { ApplicationName = "cardassay-collector" });
            await parts.OpenIntakeAsync(cancellationToken);
            CollectorServices.Add(builder, parts, started);

            // Here, since who joined decides whether an authority may be made.
            X509Certificate2? page = options.PageIsForReaders
                ? PageCertificate.OpenOrMake(options.PageCertificateFile, parts.Authority.Value, options.Page!.Address, time.GetUtcNow())
                : null;
            CollectorDoors.Open(builder, options, () => CollectorTls.Options(parts.Authority.Value, parts.Refusals, time),
                page is null ? null : CollectorTls.PageOptions(page));
            app = builder.Build();
            app.Use(app.Services.GetRequiredService<CallFaults>().WatchAsync);
            app.MapGrpcService<EnrolmentService>();
            app.MapGrpcService<DeliveryService>();
            app.MapGrpcService<BoardDeskService>();
            app.MapGrpcService<OperatorService>();
            LivePage.Map(app);
            Watching.Begin(app, options);
            parts.Projection.Start();
            var host = new CollectorHost(app, parts, options);
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
            host._events.TellStart(parts.Log.Recovery, options.DataFolder);
            return host;
        }
        catch (Exception e)
        {
            if (app is not null)
            {
                await app.DisposeAsync();
            }

            await parts.CloseDataAsync();
            await parts.CloseLinesAsync();
            if (e is StoreUnavailableException)
            {
                throw new CommandException(e.Message);
            }

            if (e is IOException or System.Net.Sockets.SocketException)
            {
                throw new CommandException($"The collector cannot listen: {e.Message.TrimEnd('.')}. "
                    + "Choose another port with --listen, --plain-text or --page.");
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
            long last = _parts.Log.LastSequence;
            (long Durable, IntakePosition Applied) now;
            try
            {
                now = (_parts.Log.DurableSequence, _parts.Projection.Position);
            }
            catch (StoreUnavailableException)
            {
                return false;
            }

            bool diskGoesOn = now.Durable >= last || now.Durable != seen.Durable;
            bool storeGoesOn = last == 0 || now.Applied == new IntakePosition(_parts.Log.Epoch.ToString(), now.Durable)
                || now.Applied != seen.Applied;
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
        await _parts.CloseDataAsync();
        File.Delete(_options.SocketPath);
        if (_options.GroupSocket is { } ofGroup)
        {
            File.Delete(ofGroup);
        }

        await _parts.CloseLinesAsync();
    }

    private async Task WatchDiskAsync()
    {
        // A failed fsync is final: the kernel has marked the pages clean, a second try would lie. End and replay.
        LogFsyncException failed = await _parts.Log.Failed;
        _events.TellSyncFailed(failed.Message);
        _syncFailed.TrySetResult();
        _app.Lifetime.StopApplication();
    }
}
