using System.Collections.Concurrent;
using Cardassay.Agent.Delivery;
using Cardassay.Collector.Storage;
using Cardassay.Journal;
using Cardassay.Simulation.Tests.Journal;
using Cardassay.Trials;
using Cardassay.Wire;
using Grpc.Core;

namespace Cardassay.Simulation.Tests.Delivery;

/// <summary>
/// A board and a collector, each a process on a simulated disk, joined in memory: the real journal, delivery stream, service, intake
/// desk and projection. Either may be killed inside any operation of its disk, with or without a power cut, and comes again. Chance comes from
/// the seed; which thread runs first does not.
/// </summary>
internal sealed class World(int seed)
{
    private static readonly TimeSpan Limit = TimeSpan.FromSeconds(60);

    private readonly Random _random = new(seed);
    private readonly ConcurrentDictionary<(string Epoch, long Sequence), byte[]> _kept = [];
    private readonly ConcurrentBag<string> _attempted = [];
    private readonly ConcurrentDictionary<string, long> _released = [];
    private volatile CollectorSide? _collector;
    private volatile ObservationJournal? _journal;

    internal SimulatedDisk BoardDisk { get; } = new();

    internal SimulatedDisk CollectorDisk { get; } = new();

    internal WireInMemory Wire { get; init; } = null!;

    /// <summary>True lets the power go when a process is killed: what was not fsynced may be lost.</summary>
    internal bool WithPowerCut { get; init; }

    /// <summary>True lets the board wait for its receipts after every eighth observation: many small messages, however fast the board is.</summary>
    internal bool InSmallMessages { get; init; }

    internal int BoardKills { get; private set; }

    internal int CollectorKills { get; private set; }

    internal static LogEpoch Epoch(Random random)
    {
        byte[] bytes = new byte[16];
        lock (random)
        {
            random.NextBytes(bytes);
        }

        return LogEpoch.FromBytes(bytes);
    }

    /// <summary>Makes a world whose wire ends at whatever collector is running.</summary>
    internal static World Create(int seed, bool withPowerCut = false, IEnumerable<int>? cutAfter = null, bool inSmallMessages = false)
    {
        World? world = null;
        world = new World(seed)
        {
            WithPowerCut = withPowerCut,
            InSmallMessages = inSmallMessages,
            Wire = new WireInMemory(() => world!._collector?.Service) { CutAfter = (cutAfter ?? []).ToHashSet() },
        };
        return world;
    }

    /// <summary>Journals so many observations, delivers all, and compares what arrived with what was promised.</summary>
    internal async Task RunAsync(int observations)
    {
        using var stop = new CancellationTokenSource();
        using var limit = new CancellationTokenSource(Limit);
        Task collector = Task.Run(() => CollectorLifeAsync(stop.Token));
        try
        {
            int made = 0;
            while (!limit.IsCancellationRequested)
            {
                (made, bool done) = await BoardLifeAsync(made, observations, limit.Token);
                if (done)
                {
                    break;
                }
            }
        }
        finally
        {
            await stop.CancelAsync();
            await collector;
        }

        Require(!limit.IsCancellationRequested, "not everything had a receipt in time");
        await CheckAsync();
    }

    /// <summary>One life of the board's process. Returns how many observations are made, and whether all have a receipt.</summary>
    private async Task<(int Made, bool Done)> BoardLifeAsync(int made, int observations, CancellationToken cancellationToken)
    {
        ObservationJournal? journal = null;
        using var stop = CancellationTokenSource.CreateLinkedTokenSource(cancellationToken);
        Task delivering = Task.CompletedTask;
        try
        {
            journal = ObservationJournal.Open(new LockedDisk(BoardDisk), JournalOptions(), TimeProvider.System, Guid.Empty);
            _journal = journal;
            ObservationJournal open = journal;
            delivering = Task.Run(() => DeliverAsync(open, stop.Token), CancellationToken.None);
            while (made < observations)
            {
                Observation observation = Make(made);
                byte[] payload = ObservationCodec.Encode(observation);
                _attempted.Add(Convert.ToHexString(payload));
                journal.Record(observation);
                made++;
                _kept[(journal.Log.Epoch.ToString(), journal.Log.LastSequence)] = payload;
                if (made % 8 == 0)
                {
                    await Task.Yield();
                    await (InSmallMessages ? DeliveredAsync(journal, cancellationToken) : Task.CompletedTask);
                }
            }

            await DeliveredAsync(journal, cancellationToken);
            return (made, !BoardDisk.HasCrashed);
        }
        catch (SimulatedCrash)
        {
            return (made, false);
        }
        catch (OperationCanceledException)
        {
            return (made, false);
        }
        finally
        {
            await stop.CancelAsync();
            await delivering;
            _journal = null;
            journal?.Dispose();
            if (BoardDisk.HasCrashed)
            {
                BoardKills++;
                Restart(BoardDisk);
            }
        }
    }

    private async Task DeliveredAsync(ObservationJournal journal, CancellationToken cancellationToken)
    {
        while (journal.Backlog > 0 && !BoardDisk.HasCrashed)
        {
            await Task.Delay(1, cancellationToken);
        }
    }

    private async Task DeliverAsync(ObservationJournal journal, CancellationToken cancellationToken)
    {
        var card = new BoardCard("board", null, Guid.Empty, "0");
        while (!cancellationToken.IsCancellationRequested && !BoardDisk.HasCrashed)
        {
            try
            {
                await using DeliveryStream stream = await DeliveryStream.OpenAsync(Wire, journal, card, TimeProvider.System, cancellationToken);
                await stream.RunAsync(cancellationToken);
            }
            catch (SimulatedCrash)
            {
                return;
            }
            catch (Exception e) when (e is RpcException or DeliveryException or IOException or OperationCanceledException)
            {
                await Task.Delay(1, CancellationToken.None); // the collector is away or coming back
            }
        }
    }

    private async Task CollectorLifeAsync(CancellationToken cancellationToken)
    {
        while (!cancellationToken.IsCancellationRequested)
        {
            CollectorSide? side = null;
            try
            {
                side = CollectorSide.Start(new LockedDisk(CollectorDisk), _random, TimeProvider.System);
                foreach (KeyValuePair<string, long> epoch in _released)
                {
                    Require(side.Desk.Through(epoch.Key) >= epoch.Value, $"{epoch.Key} had receipts through {epoch.Value}, now {side.Desk.Through(epoch.Key)}");
                }

                _collector = side;
                while (!CollectorDisk.HasCrashed && !cancellationToken.IsCancellationRequested)
                {
                    Note();
                    await Task.Delay(1, CancellationToken.None);
                }
            }
            catch (SimulatedCrash)
            {
                // Killed while it started.
            }
            finally
            {
                _collector = null;
                if (side is not null)
                {
                    await side.DisposeAsync();
                }

                if (CollectorDisk.HasCrashed)
                {
                    CollectorKills++;
                    Restart(CollectorDisk);
                }
            }
        }
    }

    /// <summary>Writes down what the board was told, so that a collector that comes again can be held to it.</summary>
    private void Note()
    {
        if (_journal is { } journal)
        {
            foreach ((string epoch, _) in _kept.Keys)
            {
                if (LogEpoch.TryParse(epoch, out LogEpoch named))
                {
                    long through = journal.Log.ReleasedThrough(named);
                    _released.AddOrUpdate(epoch, through, (_, before) => Math.Max(before, through));
                }
            }
        }
    }

    private async Task CheckAsync()
    {
        CollectorDisk.CrashAt = int.MaxValue; // a point that was not reached is none
        await using CollectorSide last = CollectorSide.Start(new LockedDisk(CollectorDisk), _random, TimeProvider.System);
        Dictionary<(string, long), StoredRecord> stored = last.Store.Records().ToDictionary(r => (r.Key.Epoch, r.Key.Sequence));
        foreach (((string Epoch, long Sequence) key, byte[] payload) in _kept)
        {
            Require(stored.TryGetValue(key, out StoredRecord? record), $"record {key.Epoch}/{key.Sequence} was journaled and is not at the collector");
            Require(payload.AsSpan().SequenceEqual(record!.Payload), $"record {key.Epoch}/{key.Sequence} has changed");
        }

        HashSet<string> attempted = [.. _attempted];
        Require(stored.Values.All(r => attempted.Contains(Convert.ToHexString(r.Payload))), "the collector has a record nobody journaled");
        Require(last.Store.Count().Conflicts == 0, "a record conflicts with itself");
    }

    private void Restart(SimulatedDisk disk)
    {
        if (WithPowerCut)
        {
            disk.CutPower(new Random(seed));
        }
        else
        {
            disk.RestartProcess();
        }
    }

    private LogOptions JournalOptions() => new()
    {
        SchemaVersion = 1, SegmentBytes = 8192, MaxBytes = 0, NewEpoch = () => Epoch(_random),
    };

    private Observation Make(int number) => new RunClosed
    {
        RunId = new RunId(new Guid(number, (short)seed, 7, new byte[8])),
        Outcome = RunOutcome.Completed,
        Reason = new string('x', number % 90),
        BytesWritten = number,
    };

    private void Require(bool condition, string what)
    {
        if (!condition)
        {
            throw new InvalidOperationException($"seed {seed}: {what}");
        }
    }
}
