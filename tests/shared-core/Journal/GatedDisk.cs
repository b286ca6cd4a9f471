using Cardassay.Journal;

namespace Cardassay.SharedCore.Tests.Journal;

/// <summary>A real folder whose fsyncs of files are counted, and can be held up or made to fail.</summary>
internal sealed class GatedDisk(string folder) : ILogDisk
{
    private readonly RealLogDisk _inner = new(folder);
    private int _fileSyncs;

    public int FileSyncs => Volatile.Read(ref _fileSyncs);

    /// <summary>An fsync goes on only while this is set.</summary>
    public ManualResetEventSlim Open { get; } = new(initialState: true);

    public bool FailSyncs { get; set; }

    public string Name => _inner.Name;

    public long FreeBytes => _inner.FreeBytes;

    public IDisposable Lock() => _inner.Lock();

    public IReadOnlyList<string> List() => _inner.List();

    public ILogFile Create(string name) => new GatedFile(this, _inner.Create(name));

    ILogFile ILogDisk.Open(string name, bool writable) => new GatedFile(this, _inner.Open(name, writable));

    public void Rename(string from, string to) => _inner.Rename(from, to);

    public void Delete(string name) => _inner.Delete(name);

    public void SyncFolder() => _inner.SyncFolder();

    private sealed class GatedFile(GatedDisk disk, ILogFile inner) : ILogFile
    {
        public long Length => inner.Length;

        public int Read(long offset, Span<byte> buffer) => inner.Read(offset, buffer);

        public void Write(long offset, ReadOnlySpan<byte> bytes) => inner.Write(offset, bytes);

        public void Truncate(long length) => inner.Truncate(length);

        public void Sync()
        {
            Interlocked.Increment(ref disk._fileSyncs);
            disk.Open.Wait(TimeSpan.FromSeconds(30));
            if (disk.FailSyncs)
            {
                throw new IOException("fsync: Input/output error");
            }

            inner.Sync();
        }

        public void ForgetCache() => inner.ForgetCache();

        public void Dispose() => inner.Dispose();
    }
}
