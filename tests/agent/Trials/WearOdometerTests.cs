using Cardassay.Agent.Trials;
using Cardassay.Journal;
using Cardassay.Trials;

namespace Cardassay.Agent.Tests.Trials;

public sealed class WearOdometerTests : IDisposable
{
    private readonly DirectoryInfo _folder = Directory.CreateTempSubdirectory("cardassay-odometer-");

    public void Dispose() => _folder.Delete(recursive: true);

    [Fact]
    public void Add_TwoCardsOfOneIdentity_AreKeptApartByTag()
    {
        WearOdometer odometer = Open();
        Assert.Equal(0, odometer.HistoryOf("sd-1", "a").WrittenBytes);
        Assert.Equal(100, odometer.Add("sd-1", "a", 100).WrittenBytes);
        Assert.Equal(7, odometer.Add("sd-1", null, 7).WrittenBytes);
        Assert.Equal(150, odometer.Add("sd-1", "a", 50).WrittenBytes);
        Assert.Equal((150L, 7L, 0L), (Open().HistoryOf("sd-1", "a").WrittenBytes, Open().HistoryOf("sd-1", null).WrittenBytes, Open().HistoryOf("sd-2", "a").WrittenBytes));
    }

    [Fact]
    public void Add_TagWithTabsAndNewlines_StaysOneLine()
    {
        Open().Add("sd-1", "a\tb\nc", 5);
        Open().Add("sd-2", null, 6);
        Assert.Equal(5, Open().HistoryOf("sd-1", "a\tb\nc").WrittenBytes);
        Assert.Equal(2, File.ReadAllLines(Path.Combine(_folder.FullName, "odometer")).Length);
    }

    [Fact]
    public void Add_WhatWasFilled_IsRememberedAndJoined()
    {
        Open().Add("sd-1", null, 100, filled: FilledPieces.Of([true, true, false, true]));
        Open().Add("sd-1", null, 10, filled: FilledPieces.Of([false, false, true]));
        CardHistory history = Open().HistoryOf("sd-1", null);
        Assert.Equal((110, null, "0-3"), (history.WrittenBytes, history.SinceWholeBytes, history.Filled.ToString()));

        // Written whole, then 5 more; then a run that does not write it whole adds to that.
        Assert.Equal(5, Open().Add("sd-1", null, 1_000, sinceWholeBytes: 5).SinceWholeBytes);
        Assert.Equal((1_117L, 12L), (Open().Add("sd-1", null, 7).WrittenBytes, Open().HistoryOf("sd-1", null).SinceWholeBytes));
        Assert.Equal(250L << 20, history.Filled.BytesOf(250L << 20)); // the last piece is a short one
    }

    [Fact]
    public void Add_InANight_CountsThatNightAloneAndForgetsItWithTheNext()
    {
        DateOnly first = new(2031, 3, 13), second = new(2031, 3, 14);
        Open().Add("sd-1", null, 1_000); // as an older version kept it
        Assert.Equal(0, Open().HistoryOf("sd-1", null).WrittenIn(first));
        Open().Add("sd-1", null, 100, night: first);
        Open().Add("sd-1", null, 50, sinceWholeBytes: 7, night: first);
        Open().Add("sd-1", "b", 9, night: first);
        CardHistory history = Open().HistoryOf("sd-1", null);
        Assert.Equal((1_150L, 150L, 0L, 7L), (history.WrittenBytes, history.WrittenIn(first), history.WrittenIn(second), history.SinceWholeBytes));
        Open().Add("sd-1", null, 1, night: second);
        Assert.Equal((0L, 1L, 1_151L), (Open().HistoryOf("sd-1", null).WrittenIn(first), Open().HistoryOf("sd-1", null).WrittenIn(second), Open().HistoryOf("sd-1", null).WrittenBytes));
    }

    [Fact]
    public void Add_TheSameRunAgain_IsCountedOnce()
    {
        RunId run = new(Guid.NewGuid());
        DateOnly night = new(2031, 3, 13);
        Assert.Equal(100, Open().Add("sd-1", null, 100, night: night, run: run).WrittenBytes);
        Assert.Equal(100, Open().Add("sd-1", null, 100, night: night, run: run).WrittenBytes);
        Assert.Equal(150, Open().Add("sd-1", null, 50, night: night, run: new RunId(Guid.NewGuid())).WrittenBytes);
        Assert.Equal(150, Open().HistoryOf("sd-1", null).WrittenIn(night));
    }

    [Theory]
    [InlineData("5;never;0-1;2031-03-13")]
    [InlineData("5;never;0-1;2031-13-13/7/")]
    [InlineData("5;never;0-1;2031-03-13/-7/")]
    [InlineData("5;never;0-1;2031-03-13/7/;more")]
    public void HistoryOf_LineThatCannotBeRead_IsKeptAndNotCounted(string written)
    {
        File.WriteAllText(Path.Combine(_folder.FullName, "odometer"), $"{written}\tsd-1\t\n");
        Assert.Equal(0, Open().HistoryOf("sd-1", null).WrittenBytes);
        Open().Add("sd-1", null, 3, night: new(2031, 3, 14));
        Assert.Contains($"{written}\tsd-1\t", File.ReadAllLines(Path.Combine(_folder.FullName, "odometer")));
        Assert.Equal((3L, 3L), (Open().HistoryOf("sd-1", null).WrittenBytes, Open().HistoryOf("sd-1", null).WrittenIn(new(2031, 3, 14))));
    }

    [Theory]
    [InlineData("x")]
    [InlineData("1-2-3")]
    [InlineData("5-4")]
    [InlineData("0-99999999999")]
    public void Parse_NoPieces_IsNull(string text) => Assert.Null(FilledPieces.Parse(text));

    [Fact]
    public void Add_LineOfAnotherVersion_IsKept()
    {
        File.WriteAllText(Path.Combine(_folder.FullName, "odometer"), "future line\n12\tsd-1\t\n");
        Assert.Equal(13, Open().Add("sd-1", null, 1).WrittenBytes);
        Assert.Contains("future line", File.ReadAllLines(Path.Combine(_folder.FullName, "odometer")));
    }

    [Fact]
    public void Add_HalfWrittenNewFileOfACrash_IsIgnored()
    {
        Open().Add("sd-1", null, 12);
        File.WriteAllText(Path.Combine(_folder.FullName, "odometer.new"), "9");
        Assert.Equal(12, Open().HistoryOf("sd-1", null).WrittenBytes);
        Assert.Equal(13, Open().Add("sd-1", null, 1).WrittenBytes);
    }

    [Fact]
    public void Add_SyncFails_KeepsTheOldSumAndThrows()
    {
        Open().Add("sd-1", null, 12);
        Assert.Throws<IOException>(() => new WearOdometer(new FailingDisk(new RealLogDisk(_folder.FullName))).Add("sd-1", null, 1));
        Assert.Equal(12, Open().HistoryOf("sd-1", null).WrittenBytes);
    }

    [Fact]
    public void Add_Negative_Throws() => Assert.Throws<ArgumentOutOfRangeException>(() => Open().Add("sd-1", null, -1).WrittenBytes);

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
