using Cardassay.Agent.BlockIo;

namespace Cardassay.Agent.Tests.BlockIo;

public sealed class ProgramPagesTests
{
    /// <summary>Cut from the file of a native agent (Linux 6.18, x64); the fields are those of proc_pid_smaps(5).</summary>
    private static readonly string[] Smaps =
    [
        .. Mapping("5628af800000-5628afd5d000 r--p 00000000 fe:00 1234                       /usr/bin/cardassay-agent", 0),
        .. Mapping("5628afd5d000-5628b03a0000 r-xp 0055c000 fe:00 1234                       /usr/bin/cardassay-agent", 0),
        .. Mapping("5628b03a0000-5628b0890000 r--p 00b9e000 fe:00 1234                       /usr/bin/cardassay-agent", 12), // relocated, then made read-only
        .. Mapping("5628b0890000-5628b08fd000 rw-p 0108d000 fe:00 1234                       /usr/bin/cardassay-agent", 0),
        .. Mapping("5628b08fd000-5628b0c99000 rw-p 00000000 00:00 0 ", 3572),
        .. Mapping("7f48f9000000-7f48f9100000 r--p 00000000 fe:00 77                         /etc/ld.so.cache", 0), // mapped for a moment only
        .. Mapping("7f48fa000000-7f48fa400000 r--p 00000000 00:00 0 ", 0),
        .. Mapping("7f4900000000-7f4900100000 r-xp 00000000 fe:00 88                         /usr/lib/a library (deleted)", 0),
        .. Mapping("7f4900100000-7f4900200000 r-xs 00000000 fe:00 88                         /usr/lib/shared.so", 0),
        .. Mapping("7ffd1d9f2000-7ffd1d9f4000 r-xp 00000000 00:00 0                          [vdso]", 0),
    ];

    [Fact]
    public void Unchanged_IsOnlyWhatLiesInMemoryAsInAProgramFile() => Assert.Equal(
        [
            (0x5628af800000ul, 0x55d000ul),
            (0x5628afd5d000ul, 0x643000ul),
            (0x7f4900000000ul, 0x100000ul),
        ],
        ProgramPages.Unchanged(Smaps).Select(m => (m.Start, m.LengthBytes)));

    [Fact]
    public void Unchanged_OfThisProcess_IsWithinItsMappings()
    {
        string[] smaps = File.ReadAllLines("/proc/self/smaps");
        List<FileMapping> unchanged = ProgramPages.Unchanged(smaps);
        Assert.NotEmpty(unchanged); // the C library at least
        Assert.All(unchanged, u => Assert.Single(
            smaps, line => line.StartsWith($"{u.Start:x}-{u.Start + u.LengthBytes:x} r-", StringComparison.Ordinal) && line.Contains('/')));
    }

    [Theory]
    [InlineData("")]
    [InlineData("Anonymous: 0 kB")]
    [InlineData("zzzz-1 r-xp 00000000 fe:00 1 /a")]
    [InlineData("5000-4000 r-xp 00000000 fe:00 1 /a")]
    [InlineData("4000 r-xp 00000000 fe:00 1 /a")]
    [InlineData("4000-5000 r-xp 00000000 fe:00 1 ")]
    public void Unchanged_OfLinesThatMakeNoMapping_IsEmpty(string line) => Assert.Empty(ProgramPages.Unchanged([line, "Anonymous:             0 kB", "Anonymous:"]));

    private static string[] Mapping(string head, int anonymousKilobytes) =>
        [head, "Size:               1024 kB", "Rss:                 512 kB", $"Anonymous:      {anonymousKilobytes,8} kB", "VmFlags: rd ex mr mw me sd "];
}
