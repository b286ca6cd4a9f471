using System.Globalization;
using System.Security.Cryptography;
using Cardassay.Collector.Backup;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Observability;
using Cardassay.Collector.Storage;
using Cardassay.Journal;
using Cardassay.Service;

namespace Cardassay.Collector.Commands;

/// <summary>
/// Makes backups when asked and, in a collector that serves, on schedule. Schedule and outcomes are events of the intake log, so that
/// `status` knows them after a restart. A scheduled folder carries a marker file: when the share it was on is not mounted, the copy
/// fails and says so, and does not land beside the data.
/// </summary>
internal sealed partial class BackupDesk : BackgroundService
{
    private const string MarkerFile = ".cardassay-backup-place";
    private const uint MaxHours = 24 * 31;
    private const uint MaxKeep = 1_000;
    private static readonly TimeSpan LookEvery = TimeSpan.FromSeconds(30);
    private static readonly TimeSpan RetryAfter = TimeSpan.FromMinutes(15);

    private readonly RecordLog _log;
    private readonly IntakeDesk _desk;
    private readonly CollectorOptions _options;
    private readonly TimeProvider _time;
    private readonly ILogger<BackupDesk> _logger;
    private readonly SemaphoreSlim _one = new(1, 1);
    private volatile V1.BackupPlanned? _plan;
    private volatile V1.BackupTried? _last;
    private volatile V1.BackupTried? _lastGood;

    public BackupDesk(
        RecordLog log, IntakeDesk desk, Projection projection, CollectorOptions options, TimeProvider time, ILogger<BackupDesk> logger)
    {
        _log = log;
        _desk = desk;
        _options = options;
        _time = time;
        _logger = logger;
        foreach (StoredEvent e in projection.OwnEvents())
        {
            if (e.FromOperator)
            {
                V1.OperatorEvent said = V1.OperatorEvent.Parser.ParseFrom(e.Payload);
                _plan = said is { Origin.Length: 0, BackupPlanned: { } planned } ? planned : _plan;
            }
            else if (V1.CollectorEvent.Parser.ParseFrom(e.Payload) is { Origin.Length: 0, BackupTried: { } tried })
            {
                Note(tried);
            }
        }
    }

    /// <exception cref="CommandException">What was asked cannot be done; one sentence.</exception>
    internal async Task<V1.BackupAnswer> RunAsync(V1.BackupRequest request, CancellationToken cancellationToken)
    {
        if (request.ScheduleOff)
        {
            await PlanAsync(new V1.BackupPlanned());
            return new V1.BackupAnswer();
        }

        if (request.EveryHours > MaxHours || request.Keep > MaxKeep)
        {
            throw new CommandException(
                string.Create(CultureInfo.InvariantCulture, $"--every: 1 to {MaxHours} hours; --keep: 1 to {MaxKeep} copies."), 2);
        }

        if (!Path.IsPathFullyQualified(request.Folder))
        {
            throw new CommandException("Give the folder for the copy.", 2);
        }

        var plan = new V1.BackupPlanned { Folder = request.Folder, EveryHours = request.EveryHours, Keep = request.Keep };
        try
        {
            BackupMaker.CheckTarget(_options.DataFolder, request.Folder);
            if (request.EveryHours > 0)
            {
                plan.Marker = Mark(request.Folder);
            }
        }
        catch (BackupException e)
        {
            throw new CommandException(e.Message, 2);
        }

        if (request.EveryHours > 0)
        {
            await PlanAsync(plan);
        }

        V1.BackupTried tried = await TryAsync(plan, cancellationToken);
        return tried.Ok
            ? new V1.BackupAnswer { Folder = tried.Folder, Entries = tried.Entries, Bytes = tried.Bytes }
            : throw new CommandException(tried.Text);
    }

    /// <summary>One line for `status`.</summary>
    internal string Line()
    {
        string plan = _plan is { EveryHours: > 0 } p
            ? string.Create(CultureInfo.InvariantCulture, $"; every {p.EveryHours} h to {p.Folder}")
            : "; none is scheduled";
        return (_lastGood is { } good
            ? string.Create(CultureInfo.InvariantCulture,
                $"{Show.Duration(Age(good).TotalSeconds)} old, {good.Entries} entries in {good.Folder}")
            : "never made") + plan;
    }

    /// <summary>Age of the last good copy, s; null when there is none.</summary>
    internal double? AgeSeconds() => _lastGood is { } good ? Age(good).TotalSeconds : null;

    /// <summary>What a person should do about it.</summary>
    internal IEnumerable<string> NeedsPerson()
    {
        if (_plan is not { EveryHours: > 0 } plan)
        {
            yield break;
        }

        string age = _lastGood is { } good
            ? $"the last good one is {Show.Duration(Age(good).TotalSeconds)} old"
            : "there is no good one yet";
        if (_last is { Ok: false } failed)
        {
            yield return $"The last backup failed, {age}: {failed.Text}";
        }
        else if (_lastGood is { } late && Age(late) > 2 * TimeSpan.FromHours(plan.EveryHours))
        {
            yield return $"The scheduled backup to {plan.Folder} is overdue, {age}: is the collector running all the time, "
                + "and does the share answer?";
        }
    }

    /// <inheritdoc/>
    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        while (_options.Serves && !stoppingToken.IsCancellationRequested)
        {
            if (_plan is { EveryHours: > 0 } plan && IsDue(plan))
            {
                await ((Task)TryAsync(plan, stoppingToken)).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            }

            await Task.Delay(LookEvery, _time, stoppingToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
        }
    }

    private bool IsDue(V1.BackupPlanned plan)
    {
        bool old = _lastGood is not { } good || Age(good) >= TimeSpan.FromHours(plan.EveryHours)
            || Path.GetDirectoryName(good.Folder) != plan.Folder;
        return old && (_last is not { Ok: false } failed || Age(failed) >= RetryAfter);
    }

    private async Task<V1.BackupTried> TryAsync(V1.BackupPlanned plan, CancellationToken cancellationToken)
    {
        await _one.WaitAsync(cancellationToken);
        try
        {
            V1.BackupTried tried = await Task.Run(() => Try(plan), CancellationToken.None);
            tried.AtUnixNs = _desk.NowUnixNs();
            bool sameFailure = !tried.Ok && _last is { Ok: false } before && before.Text == tried.Text;
            if (!sameFailure)
            {
                // A share that is away for a week is one entry of the log, not seven hundred.
                await _desk.RecordAsync([new V1.IntakeEntry { CollectorEvent = new V1.CollectorEvent { BackupTried = tried } }],
                    CancellationToken.None);
            }

            Note(tried);
            if (tried.Ok)
            {
                LogMade(_logger, tried.Folder, tried.Entries, tried.Bytes);
            }
            else
            {
                LogFailed(_logger, tried.Text);
            }

            return tried;
        }
        finally
        {
            _one.Release();
        }
    }

    private V1.BackupTried Try(V1.BackupPlanned plan)
    {
        try
        {
            if (plan.Marker.Length > 0)
            {
                string marker = Path.Combine(plan.Folder, MarkerFile);
                if (!File.Exists(marker) || new FileInfo(marker).Length > 100 || File.ReadAllText(marker).Trim() != plan.Marker)
                {
                    throw new BackupException($"{plan.Folder} is not the folder that was chosen (its {MarkerFile} is missing): "
                        + $"is the share mounted? `backup {plan.Folder} --every {plan.EveryHours}` chooses it anew.");
                }
            }

            BackupMade made = BackupMaker.Make(_log, _options.DataFolder, _options.AuthorityFile, plan.Folder, _time.GetUtcNow());
            if (plan.EveryHours > 0 && plan.Keep > 0)
            {
                BackupMaker.KeepNewest(plan.Folder, (int)plan.Keep);
            }

            return new V1.BackupTried { Ok = true, Folder = made.Folder, Entries = (ulong)made.Entries, Bytes = (ulong)made.Bytes };
        }
        catch (Exception e) when (e is BackupException or IOException or UnauthorizedAccessException)
        {
            return new V1.BackupTried
            {
                Folder = plan.Folder,
                Text = ServiceFolder.ReadOnlyRemedy(CollectorOptions.ServiceName, plan.Folder, e) ?? e.Message,
            };
        }
    }

    private static string Mark(string folder)
    {
        string file = Path.Combine(folder, MarkerFile);
        string marker = Convert.ToHexStringLower(RandomNumberGenerator.GetBytes(8));
        try
        {
            PrivateFile.Write(file, marker + "\n");
            return marker;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new BackupException(ServiceFolder.ReadOnlyRemedy(CollectorOptions.ServiceName, folder, e)
                ?? $"{folder} cannot be written: {e.Message.TrimEnd('.')}.", e);
        }
    }

    private async Task PlanAsync(V1.BackupPlanned plan)
    {
        await _desk.RecordAsync([new V1.IntakeEntry { OperatorEvent = new V1.OperatorEvent { BackupPlanned = plan } }],
            CancellationToken.None);
        _plan = plan;
    }

    private void Note(V1.BackupTried tried)
    {
        _last = tried;
        _lastGood = tried.Ok ? tried : _lastGood;
    }

    private TimeSpan Age(V1.BackupTried tried) => TimeSpan.FromTicks(Math.Max(0, (_desk.NowUnixNs() - tried.AtUnixNs) / 100));

    [LoggerMessage(EventId = EventNumbers.BackupMade, Level = LogLevel.Information,
        Message = "Backup made and checked: {Folder}, {Entries} entries, {Bytes} bytes")]
    private static partial void LogMade(ILogger logger, string folder, ulong entries, ulong bytes);

    [LoggerMessage(EventId = EventNumbers.BackupFailed, Level = LogLevel.Warning, Message = "The backup failed: {Problem}")]
    private static partial void LogFailed(ILogger logger, string problem);
}
