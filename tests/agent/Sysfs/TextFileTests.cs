using System.Text;
using Cardassay.Agent.Sysfs;
using Cardassay.Registers;

namespace Cardassay.Agent.Tests.Sysfs;

public sealed class TextFileTests : IDisposable
{
    private readonly FixtureTree _fixture = new();

    public void Dispose() => _fixture.Dispose();

    [Fact]
    public void Read_MissingFile_IsAbsent()
    {
        Assert.Equal(ReadingState.Absent, TextFile.Read(_fixture.Tree, "sys/nothing").State);
        _fixture.Text("sys/file", "1");
        Assert.Equal(ReadingState.Absent, TextFile.Read(_fixture.Tree, "sys/file/below").State);
    }

    [Fact]
    public void Read_EmptyFile_IsKnownAndEmpty()
    {
        _fixture.Bytes("sys/empty", []);
        Assert.Equal(Reading<string>.Known(""), TextFile.Read(_fixture.Tree, "sys/empty"));
    }

    [Fact]
    public void Read_FinalNewline_IsRemovedOnce()
    {
        _fixture.Bytes("sys/a", "x\n\n"u8.ToArray());
        Assert.Equal("x\n", TextFile.Read(_fixture.Tree, "sys/a").Value);
    }

    [Fact]
    public void Read_Folder_IsUnreadable()
    {
        Directory.CreateDirectory(Path.Combine(_fixture.Root, "sys/folder"));
        Reading<string> read = TextFile.Read(_fixture.Tree, "sys/folder");
        Assert.Equal((ReadingState.Unreadable, "it is a folder, not a file"), (read.State, read.Reason));
    }

    [Fact]
    public async Task Read_Pipe_IsUnreadableAtOnce()
    {
        Directory.CreateDirectory(Path.Combine(_fixture.Root, "sys"));
        Shell.Run("mkfifo", Path.Combine(_fixture.Root, "sys/pipe"));
        Reading<string> read = await Task.Run(() => TextFile.Read(_fixture.Tree, "sys/pipe")).WaitAsync(TimeSpan.FromSeconds(5));
        Assert.Equal(ReadingState.Unreadable, read.State);
    }

    [Fact]
    public void Read_EndlessDevice_IsUnreadable()
    {
        _fixture.Link("sys/zero", "/dev/zero");
        Assert.Equal(ReadingState.Unreadable, TextFile.Read(_fixture.Tree, "sys/zero").State);
    }

    [Fact]
    public void Read_InputOutputError_IsUnreadableWithTheKernelsWords()
    {
        // The kernel answers EIO for the first page of a process's memory (proc(5), /proc/pid/mem): a real failing read.
        Reading<string> read = TextFile.Read(new SysfsTree("/"), "proc/self/mem");
        Assert.Equal((ReadingState.Unreadable, "Input/output error"), (read.State, read.Reason));
    }

    [Theory]
    [InlineData(TextFile.LimitBytes, ReadingState.Known)]
    [InlineData(TextFile.LimitBytes + 1, ReadingState.Unreadable)]
    [InlineData(1024 * 1024, ReadingState.Unreadable)]
    public void Read_LongFile_IsWholeOrUnreadable(int lengthBytes, ReadingState expected)
    {
        _fixture.Bytes("sys/long", Enumerable.Repeat((byte)'a', lengthBytes).ToArray());
        Reading<string> read = TextFile.Read(_fixture.Tree, "sys/long");
        Assert.Equal(expected, read.State);
        Assert.Equal(expected == ReadingState.Known ? lengthBytes : 0, read.Value?.Length ?? 0);
    }

    [Fact]
    public void Read_BinaryJunk_IsEscapedWithoutLoss()
    {
        _fixture.Bytes("sys/name", [0x53, 0x00, 0x1B, 0x5B, 0x5C, 0xFF, 0x7F, 0x0A]);
        Assert.Equal(@"S\x00\x1b[\x5c\xff\x7f", TextFile.Read(_fixture.Tree, "sys/name").Value);
    }

    [Fact]
    public void Read_KernelFile_AgreesWithTheLibrary()
    {
        Assert.Equal(File.ReadAllText("/proc/sys/kernel/osrelease").TrimEnd('\n'), TextFile.Read(new SysfsTree("/"), "proc/sys/kernel/osrelease").Value);
        Assert.Equal(
            Encoding.UTF8.GetString(File.ReadAllBytes("/proc/self/mountinfo")),
            TextFile.ReadTable(new SysfsTree("/"), "proc/self/mountinfo").Value);
    }

    [Theory]
    [InlineData("0", 0L)]
    [InlineData("-3\n", -3L)]
    [InlineData("9223372036854775807", long.MaxValue)]
    public void ParseNumber_Number_IsKnown(string text, long expected) => Assert.Equal(Reading<long>.Known(expected), TextFile.ParseNumber(text));

    [Theory]
    [InlineData("")]
    [InlineData("12x")]
    [InlineData("1,000")]
    [InlineData("9223372036854775808")]
    public void ParseNumber_AnythingElse_IsUnreadable(string text) => Assert.Equal(ReadingState.Unreadable, TextFile.ParseNumber(text).State);
}
