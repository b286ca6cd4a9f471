using Cardassay.Agent.Trials;
using Cardassay.Journal;

namespace Cardassay.Agent.Tests.Trials;

public sealed class WearOdometerTests : IDisposable
{
    private readonly DirectoryInfo _folder = Directory.CreateTempSubdirectory("cardassay-odometer-");

    public void Dispose() => _folder.Delete(recursive: true);

    [Fact]
    public void Add_TwoCardsOfOneIdentity_AreKeptApartByTag()
    {
        WearOdometer odometer = Open();
        Assert.Equal(0, odometer.BytesWritten("sd-1", "a"));
        Assert.Equal(100, odometer.Add("sd-1", "a", 100));
        Assert.Equal(7, odometer.Add("sd-1", null, 7));
        Assert.Equal(150, odometer.Add("sd-1", "a", 50));
        Assert.Equal((150L, 7L, 0L), (Open().BytesWritten("sd-1", "a"), Open().BytesWritten("sd-1", null), Open().BytesWritten("sd-2", "a")));
    }

    [Fact]
    public void Add_TagWithTabsAndNewlines_StaysOneLine()
    {
        Open().Add("sd-1", "a\tb\nc", 5);
        Open().Add("sd-2", null, 6);
        Assert.Equal(5, Open().BytesWritten("sd-1", "a\tb\nc"));
        Assert.Equal(2, File.ReadAllLines(Path.Combine(_folder.FullName, "odometer")).Length);
    }

    [Fact]
    public void Add_LineOfAnotherVersion_IsKept()
    {
        File.WriteAllText(Path.Combine(_folder.FullName, "odometer"), "future line\n12\tsd-1\t\n");
        Assert.Equal(13, Open().Add("sd-1", null, 1));
        Assert.Contains("future line", File.ReadAllLines(Path.Combine(_folder.FullName, "odometer")));
    }

    [Fact]
    public void Add_HalfWrittenNewFileOfACrash_IsIgnored()
    {
        Open().Add("sd-1", null, 12);
        File.WriteAllText(Path.Combine(_folder.FullName, "odometer.new"), "9");
        Assert.Equal(12, Open().BytesWritten("sd-1", null));
        Assert.Equal(13, Open().Add("sd-1", null, 1));
    }

    [Fact]
    public void Add_SyncFails_KeepsTheOldSumAndThrows()
    {
        Open().Add("sd-1", null, 12);
        Assert.Throws<IOException>(() => new WearOdometer(new FailingDisk(new RealLogDisk(_folder.FullName))).Add("sd-1", null, 1));
        Assert.Equal(12, Open().BytesWritten("sd-1", null));
    }

    [Fact]
    public void Add_Negative_Throws() => Assert.Throws<ArgumentOutOfRangeException>(() => Open().Add("sd-1", null, -1));

    private WearOdometer Open() => new(new RealLogDisk(_folder.FullName));

    private sealed class FailingDisk(ILogDisk inner) : ILogDisk
    {
        public string Name => inner.Name;

        public long FreeBytes => inner.FreeBytes;

        public IDisposable Lock() => inner.Lock();

        public IReadOnlyList<string> List() => inner.List();

        public ILogFile Create(string name) => new FailingFile(inner.Create(name));

        public ILogFile Open(string name, bool writable) => inner.Open(name, writable);

        public void Rename(string from, string to) => inner.Rename(from, to);

        public void Delete(string name) => inner.Delete(name);

        public void SyncFolder() => inner.SyncFolder();
    }

    private sealed class FailingFile(ILogFile inner) : ILogFile
    {
        public long Length => inner.Length;

        public int Read(long offset, Span<byte> buffer) => inner.Read(offset, buffer);

        public void Write(long offset, ReadOnlySpan<byte> bytes) => inner.Write(offset, bytes);

        public void Truncate(long length) => inner.Truncate(length);

        public void Sync() => throw new IOException("no sync");

        public void ForgetCache() => inner.ForgetCache();

        public void Dispose() => inner.Dispose();
    }
}
