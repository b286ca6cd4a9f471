using Cardassay.Journal;

namespace Cardassay.Simulation.Tests.Journal;

/// <summary>
/// A folder in memory that can lose power, end the process inside any operation, fill up and fail an fsync. It promises what POSIX
/// promises and no more: without fsync of the file its bytes may be lost, reordered or torn between sectors, without fsync of the folder its
/// entries may be lost. A sector is written whole or not at all. For one thread.
/// </summary>
internal sealed class SimulatedDisk : ILogDisk
{
    private const int SectorBytes = 512;

    private readonly List<Action<Dictionary<string, SimulatedFile>>> _dirtyEntries = [];
    private Dictionary<string, SimulatedFile> _entries = [];
    private Dictionary<string, SimulatedFile> _storedEntries = [];
    private byte[] _oldData = [];
    private bool _locked;
    private bool _crashed;

    public string Name => "the simulated disk";

    /// <summary>How many operations that change something have begun.</summary>
    public int Operations { get; private set; }

    /// <summary>The operation in which the process ends, counted from 1.</summary>
    public int CrashAt { get; set; } = int.MaxValue;

    /// <summary>Decides how much of the operation that crashes still happens.</summary>
    public Random? CrashRandom { get; set; }

    /// <summary>Size of the disk.</summary>
    public long CapacityBytes { get; set; } = 1L << 40;

    /// <summary>How many fsyncs from now one fails; 0 is the next, negative is none.</summary>
    public int FailSyncIn { get; set; } = -1;

    /// <summary>True between the end of the process and its restart.</summary>
    public bool HasCrashed => _crashed;

    public long FreeBytes => Math.Max(0, CapacityBytes - _entries.Values.Distinct().Sum(file => (long)file.Length));

    public IReadOnlyDictionary<string, SimulatedFile> Files => _entries;

    /// <summary>Adds a file that is fully stored.</summary>
    public void Put(string name, ReadOnlySpan<byte> content)
    {
        SimulatedFile file = SimulatedFile.Holding(content);
        _entries[name] = file;
        _storedEntries[name] = file;
    }

    /// <summary>A copy of the folder as processes see it now, fully stored.</summary>
    public SimulatedDisk Copy()
    {
        var copy = new SimulatedDisk { CapacityBytes = CapacityBytes };
        foreach ((string name, SimulatedFile file) in _entries)
        {
            copy.Put(name, file.Cache);
        }

        return copy;
    }

    /// <summary>The process is gone (SIGKILL); the machine goes on and loses nothing.</summary>
    public void RestartProcess()
    {
        _locked = false;
        _crashed = false;
        CrashAt = int.MaxValue;
        FailSyncIn = -1;
    }

    /// <summary>The power goes: what was not made durable survives in part or not at all.</summary>
    public void CutPower(Random random)
    {
        RestartProcess();
        double share = random.Next(3) switch { 0 => 0, 1 => 1, _ => random.NextDouble() };
        foreach (Action<Dictionary<string, SimulatedFile>> change in _dirtyEntries)
        {
            if (random.NextDouble() < share)
            {
                change(_storedEntries);
            }
        }

        _dirtyEntries.Clear();
        foreach (SimulatedFile file in _storedEntries.Values.Distinct())
        {
            file.CutPower(random, SectorBytes, _oldData);
        }

        _entries = new Dictionary<string, SimulatedFile>(_storedEntries);
    }

    public IDisposable Lock()
    {
        if (_locked)
        {
            throw new LogInUseException(Name);
        }

        _locked = true;
        return new Release(() => _locked = false);
    }

    public IReadOnlyList<string> List() => [.. _entries.Keys];

    public ILogFile Create(string name)
    {
        Begin();
        var file = new SimulatedFile();
        Enter(entries => entries[name] = file);
        return new OpenFile(this, file);
    }

    public ILogFile Open(string name, bool writable) =>
        _entries.TryGetValue(name, out SimulatedFile? file) ? new OpenFile(this, file) : throw new FileNotFoundException(name);

    public void Rename(string from, string to)
    {
        Begin();
        SimulatedFile file = _entries[from];
        Enter(entries =>
        {
            entries.Remove(from);
            entries[to] = file;
        });
    }

    public void Delete(string name)
    {
        Begin();
        if (_entries.TryGetValue(name, out SimulatedFile? file))
        {
            _oldData = file.Cache.ToArray();
        }

        Enter(entries => entries.Remove(name));
    }

    public void SyncFolder()
    {
        Begin();
        ThrowIfSyncFails();
        _storedEntries = new Dictionary<string, SimulatedFile>(_entries);
        _dirtyEntries.Clear();
    }

    private void Enter(Action<Dictionary<string, SimulatedFile>> change)
    {
        change(_entries);
        _dirtyEntries.Add(change);
    }

    /// <summary>Counts an operation; true when the process is to end in it.</summary>
    private bool CrashesNow()
    {
        if (_crashed)
        {
            throw new SimulatedCrash();
        }

        Operations++;
        _crashed = Operations >= CrashAt;
        return _crashed;
    }

    private void Begin()
    {
        if (CrashesNow())
        {
            throw new SimulatedCrash();
        }
    }

    private void ThrowIfSyncFails()
    {
        if (FailSyncIn >= 0 && FailSyncIn-- == 0)
        {
            throw new IOException("fsync: Input/output error");
        }
    }

    private sealed class Release(Action action) : IDisposable
    {
        public void Dispose() => action();
    }

    private sealed class OpenFile(SimulatedDisk disk, SimulatedFile file) : ILogFile
    {
        public long Length => file.Length;

        public int Read(long offset, Span<byte> buffer)
        {
            int count = (int)Math.Clamp(file.Length - offset, 0, buffer.Length);
            file.Cache.Slice((int)Math.Min(offset, file.Length), count).CopyTo(buffer);
            return count;
        }

        public void Write(long offset, ReadOnlySpan<byte> bytes)
        {
            if (disk.CrashesNow())
            {
                int part = (disk.CrashRandom ?? new Random(0)).Next(bytes.Length + 1);
                file.Write((int)offset, bytes[..part]);
                throw new SimulatedCrash();
            }

            long growth = offset + bytes.Length - file.Length;
            if (growth > disk.FreeBytes)
            {
                // Like write(2): what still fits is written.
                file.Write((int)offset, bytes[..(int)Math.Max(0, bytes.Length - (growth - disk.FreeBytes))]);
                throw new LogDiskFullException("The simulated disk is full.");
            }

            file.Write((int)offset, bytes);
        }

        public void Truncate(long length)
        {
            disk.Begin();
            file.Truncate((int)length);
        }

        public void Sync()
        {
            disk.Begin();
            try
            {
                disk.ThrowIfSyncFails();
            }
            catch (IOException)
            {
                file.FailToStore();
                throw;
            }

            file.Store();
        }

        public void ForgetCache() => file.ForgetCache();

        public void Dispose()
        {
        }
    }
}
