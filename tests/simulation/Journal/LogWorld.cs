using System.Globalization;
using Cardassay.Journal;

namespace Cardassay.Simulation.Tests.Journal;

/// <summary>
/// A log under a seeded workload on a simulated disk, and beside it everything a far side was told: the truth that recovery is checked
/// against. As a journal it releases what was received; as an intake log it keeps everything.
/// </summary>
internal sealed class LogWorld(int seed, bool isJournal)
{
    private static readonly LogStamp Stamp = new(1, 2, new Guid(3, 4, 5, new byte[8]));

    private readonly Random _random = new(seed);

    /// <summary>Payloads handed to Append, by key; a key that was never durable may be used again after a crash.</summary>
    private readonly Dictionary<(LogEpoch Epoch, long Sequence), byte[]> _appended = [];

    /// <summary>Payloads a far side has seen because Flush had returned: never to be lost, changed or handed out again.</summary>
    private readonly Dictionary<(LogEpoch Epoch, long Sequence), byte[]> _promised = [];

    private readonly Dictionary<LogEpoch, long> _released = [];

    public SimulatedDisk Disk { get; } = new();

    public int PromisedCount => _promised.Count;

    public int Openings { get; private set; }

    /// <summary>Openings that cut a tail, set a segment aside, or named a loss.</summary>
    public (int Cut, int SetAside, int Lost) Damage { get; private set; }

    public int EpochsSeen => _promised.Keys.Select(key => key.Epoch).Distinct().Count();

    public LogOptions Options => new()
    {
        SchemaVersion = 1,
        SegmentBytes = 4096,
        MaxBytes = 0,
        NewEpoch = () =>
        {
            byte[] bytes = new byte[16];
            _random.NextBytes(bytes);
            return LogEpoch.FromBytes(bytes);
        },
    };

    /// <summary>Works until the steps are done or the disk ends the process.</summary>
    public void Work(int steps)
    {
        try
        {
            using RecordLog log = Open();
            AcknowledgeLosses(log);
            for (int i = 0; i < steps; i++)
            {
                Step(log);
            }
        }
        catch (SimulatedCrash)
        {
        }
    }

    /// <summary>Opens the log and compares it with what was promised.</summary>
    public void Check()
    {
        using RecordLog log = Open();
        Dictionary<(LogEpoch Epoch, long Sequence), byte[]> found = [];
        foreach ((LogEpoch epoch, _, _) in log.Epochs())
        {
            foreach (LogRecord record in log.Read(epoch, 1))
            {
                found.Add((epoch, record.Sequence), record.Payload.ToArray());
            }
        }

        foreach (((LogEpoch epoch, long sequence), byte[] payload) in _promised)
        {
            if (sequence <= _released.GetValueOrDefault(epoch))
            {
                continue;
            }

            Require(found.TryGetValue((epoch, sequence), out byte[]? kept), $"promised record {epoch}/{sequence} is lost");
            Require(payload.AsSpan().SequenceEqual(kept), $"promised record {epoch}/{sequence} has changed");
        }

        foreach (((LogEpoch Epoch, long Sequence) key, byte[] payload) in found)
        {
            Require(_appended.TryGetValue(key, out byte[]? original) && original.AsSpan().SequenceEqual(payload),
                $"record {key.Epoch}/{key.Sequence} was never appended");
            _promised[key] = payload;
        }

        foreach (LostRange lost in log.LostRanges)
        {
            for (long sequence = lost.First; sequence <= lost.Last; sequence++)
            {
                Require(!_promised.ContainsKey((lost.Epoch, sequence)), $"record {lost.Epoch}/{sequence} is called lost, but was promised");
            }
        }

        foreach ((LogEpoch epoch, long through) in _released)
        {
            Require(log.ReleasedThrough(epoch) <= through, $"{epoch} is released further than ever asked");
        }
    }

    private RecordLog Open()
    {
        RecordLog log = RecordLog.Open(Disk, Options);
        Openings++;
        Damage = (Damage.Cut + Math.Sign(log.Recovery.Cuts.Count), Damage.SetAside + Math.Sign(log.Recovery.SetAside.Count),
            Damage.Lost + Math.Sign(log.Recovery.LostRanges.Count));
        return log;
    }

    private void Step(RecordLog log)
    {
        int what = _random.Next(100);
        if (what < 70)
        {
            for (int more = _random.Next(4) == 0 ? _random.Next(1, 10) : 1; more > 0; more--)
            {
                byte[] payload = new byte[_random.Next(20) == 0 ? _random.Next(6000) : _random.Next(300)];
                _random.NextBytes(payload);
                long sequence = log.LastSequence + 1;
                Require(!_promised.ContainsKey((log.Epoch, sequence)), $"sequence {sequence} is used again");
                _appended[(log.Epoch, sequence)] = payload;
                Require(log.Append(Stamp, payload) == sequence, "sequences have a gap");
            }
        }
        else if (what < 90)
        {
            log.Flush();
            Promise(log);
        }
        else if (isJournal)
        {
            Promise(log);
            IReadOnlyList<(LogEpoch Epoch, long First, long Last)> epochs = log.Epochs();
            (LogEpoch epoch, long first, long last) = epochs[_random.Next(epochs.Count)];
            long through = first + _random.NextInt64(Math.Max(1, last - first + 1));
            _released[epoch] = Math.Max(_released.GetValueOrDefault(epoch), Math.Min(through, last));
            log.Release(epoch, through);
        }
    }

    private void Promise(RecordLog log)
    {
        for (long sequence = log.DurableSequence; sequence > 0 && _promised.TryAdd((log.Epoch, sequence), _appended[(log.Epoch, sequence)]); sequence--)
        {
        }
    }

    private void AcknowledgeLosses(RecordLog log)
    {
        if (_random.Next(2) == 0)
        {
            foreach (LostRange lost in log.LostRanges)
            {
                log.AcknowledgeLost(lost);
            }
        }
    }

    private void Require(bool condition, string what)
    {
        if (!condition)
        {
            throw new InvalidOperationException(string.Create(CultureInfo.InvariantCulture, $"seed {seed}, journal {isJournal}: {what}"));
        }
    }
}
