using Cardassay.Journal;
using Cardassay.Simulation.Tests.Journal;

namespace Cardassay.Simulation.Tests.Delivery;

/// <summary>Lets several threads use a simulated disk, one operation at a time.</summary>
internal sealed class LockedDisk(SimulatedDisk disk) : ILogDisk
{
    private readonly Lock _gate = new();

    public string Name => disk.Name;

    public long FreeBytes => Run(() => disk.FreeBytes);

    public IDisposable Lock() => Run(disk.Lock);

    public IReadOnlyList<string> List() => Run(disk.List);

    public ILogFile Create(string name) => new LockedFile(_gate, Run(() => disk.Create(name)));

    public ILogFile Open(string name, bool writable) => new LockedFile(_gate, Run(() => disk.Open(name, writable)));

    public void Rename(string from, string to) => Run(() => disk.Rename(from, to));

    public void Delete(string name) => Run(() => disk.Delete(name));

    public void SyncFolder() => Run(disk.SyncFolder);

    private T Run<T>(Func<T> work)
    {
        lock (_gate)
        {
            return work();
        }
    }

    private void Run(Action work)
    {
        lock (_gate)
        {
            work();
        }
    }

    private sealed class LockedFile(Lock gate, ILogFile file) : ILogFile
    {
        public long Length
        {
            get
            {
                lock (gate)
                {
                    return file.Length;
                }
            }
        }

        public int Read(long offset, Span<byte> buffer)
        {
            lock (gate)
            {
                return file.Read(offset, buffer);
            }
        }

        public void Write(long offset, ReadOnlySpan<byte> bytes)
        {
            lock (gate)
            {
                file.Write(offset, bytes);
            }
        }

        public void Truncate(long length)
        {
            lock (gate)
            {
                file.Truncate(length);
            }
        }

        public void Sync()
        {
            lock (gate)
            {
                file.Sync();
            }
        }

        public void ForgetCache()
        {
            lock (gate)
            {
                file.ForgetCache();
            }
        }

        public void Dispose() => file.Dispose();
    }
}
