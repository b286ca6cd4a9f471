using System.Diagnostics;
using System.IO.Compression;
using System.Text;
using Cardassay.Collector.Exchange;
using Cardassay.Collector.Files;

namespace Cardassay.Collector.Tests.Exchange;

/// <summary>A zip from elsewhere is read when every program sees the same in it, and refused by name otherwise.</summary>
public sealed class BoundedZipTests : IDisposable
{
    private static readonly string[] Expected = ["about.json", "table.md"];
    private static readonly byte[] Good = Encoding.ASCII.GetBytes("| T-1 | 2050 |\n");
    private static readonly byte[] Forged = Encoding.ASCII.GetBytes("| T-1 | 9999 |\n");
    private readonly DirectoryInfo _folder = Directory.CreateTempSubdirectory("cardassay-test-");

    public static TheoryData<string, string> Altered => new()
    {
        { "a second table", "holds table.md twice" },
        { "a second table in capitals", "twice" },
        { "a member that is none of ours", "extra.sh" },
        { "a member above the folder", "../table.md" },
        { "a name with a line end", "called" },
        { "a table before the first member that the directory does not list", "does not list" },
        { "a table between members that the directory does not list", "does not list" },
        { "bytes before the zip", "does not list" },
        { "another name in the header than in the directory", "says something else of itself" },
        { "another length in the header than in the directory", "says something else of itself" },
        { "another name in a field", "gives it another name" },
        { "a link", "a link" },
        { "an encrypted member", "encrypted" },
        { "bytes behind the compressed data", "does not list" },
        { "bytes behind the data inside the member", "damaged" },
        { "a comment", "has something behind its end" },
        { "a zip behind the zip", "does not end where it should" },
        { "a member longer than stated", "damaged" },
        { "a member shorter than stated", "damaged" },
        { "a wrong checksum", "damaged" },
        { "zeros that become a thousand times as much", "more than 200 to 1" },
        { "seventeen members", "16 at the most" },
        { "nothing", "is not a zip file" },
    };

    [Theory]
    [MemberData(nameof(Altered))]
    public void Read_AnAlteredZip_IsRefusedByName(string what, string why)
    {
        byte[] zip = Make(what);
        EvidenceException e = Assert.Throws<EvidenceException>(() => Read(zip));
        Assert.Contains(why, e.Message, StringComparison.Ordinal);
        Assert.DoesNotContain(e.Message, char.IsControl);
    }

    [Theory]
    [InlineData(0)]
    [InlineData(8)] // with a descriptor, as written to a pipe
    public void Read_WhatTheFormatAllows_IsRead(int flags)
    {
        byte[] time = [0x55, 0x54, 5, 0, 1, 0, 0, 0, 0]; // a time, as other programs add it ("UT", Info-ZIP)
        byte[] zip = new RawZip().Add("about.json", [], flags: (ushort)flags).Add("table.md", Good, flags: (ushort)flags, external: 0x81A40000, extra: time).End();
        Assert.Equal(Good, Read(zip));
    }

    [Theory]
    [InlineData("zip -q -X made.zip about.json table.md")]
    [InlineData("python3 -m zipfile -c made.zip about.json table.md")]
    public void Read_AZipOfAnotherProgram_IsRead(string command)
    {
        File.WriteAllBytes(Path.Combine(_folder.FullName, "about.json"), [0x7B, 0x7D]);
        File.WriteAllBytes(Path.Combine(_folder.FullName, "table.md"), Good);
        string[] words = command.Split(' ');
        if (!File.Exists("/usr/bin/" + words[0]))
        {
            return; // the other programs say the same
        }

        using Process made = Process.Start(new ProcessStartInfo(words[0], words[1..]) { WorkingDirectory = _folder.FullName })!;
        made.WaitForExit();
        Assert.Equal(0, made.ExitCode);
        Assert.Equal(Good, Read(File.ReadAllBytes(Path.Combine(_folder.FullName, "made.zip"))));
    }

    [Fact]
    public void Read_AMemberLargerThanAsked_IsRefusedBeforeAnythingIsUnpacked()
    {
        byte[] zip = new RawZip().Add("table.md", Good).End();
        BoundedZip open = BoundedZip.Open(new MemoryStream(zip), "x.zip", Expected);
        Assert.Contains("larger than the 10 bytes", Assert.Throws<EvidenceException>(() => open.Read("table.md", 10)).Message, StringComparison.Ordinal);
        Assert.Contains("lacks the file about.json", Assert.Throws<EvidenceException>(() => open.Read("about.json", 10)).Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Read_AnyOneByteChanged_GivesTheSameContentAsTheLibraryOrIsRefused()
    {
        byte[] whole = new RawZip().Add("about.json", [1, 2, 3]).Add("table.md", Good, flags: 8).End();
        int read = 0;
        for (int at = 0; at < whole.Length; at++)
        {
            for (int bit = 0; bit < 8; bit++)
            {
                byte[] damaged = [.. whole];
                damaged[at] ^= (byte)(1 << bit);
                byte[] content;
                try
                {
                    content = Read(damaged);
                }
                catch (EvidenceException)
                {
                    continue;
                }

                // The library of .NET goes by the directory alone.
                read++;
                using var library = new ZipArchive(new MemoryStream(damaged));
                using var copy = new MemoryStream();
                using (Stream member = library.GetEntry("table.md")!.Open())
                {
                    member.CopyTo(copy);
                }

                Assert.Equal(content, copy.ToArray());
                Assert.Equal(Good, content);
            }
        }

        Assert.InRange(read, 1, 2 * whole.Length); // of eight times as many: times, versions and the like may change
    }

    [Fact]
    public void Of_Lines_ComeOneByOneAndNoLongerThanAllowed()
    {
        static string[] Lines(string text, int most = 10) => [.. BoundedLines.Of(new OneByteStream(Encoding.UTF8.GetBytes(text)), "x", most, 4)];
        Assert.Equal(["a", "", "é", "z"], Lines("a\r\n\né\nz"));
        Assert.Equal([], Lines(""));
        Assert.Equal(["0123456789"], Lines("0123456789\n"));
        Assert.Contains("Line 2 of x is longer", Assert.Throws<EvidenceException>(() => Lines("a\n01234567890")).Message, StringComparison.Ordinal);
        Assert.Contains("more than 4 lines", Assert.Throws<EvidenceException>(() => Lines("1\n2\n3\n4\n5")).Message, StringComparison.Ordinal);
        Assert.Contains("Line 1 of x is not text", Assert.Throws<EvidenceException>(() => BoundedLines.Of(new MemoryStream([0xFF, 0x0A]), "x", 10).Count()).Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Read_AFileWithoutEnd_IsReadToTheLimitOnly()
    {
        EvidenceException e = Assert.Throws<EvidenceException>(() => ForeignFile.Read("/dev/zero", ForeignFile.MaxSettingsBytes));
        Assert.Contains("/dev/zero is larger than 1 MiB", e.Message, StringComparison.Ordinal);
    }

    public void Dispose() => _folder.Delete(recursive: true);

    private static byte[] Make(string what)
    {
        var zip = new RawZip();
        byte[] otherName = [0x75, 0x70, 9, 0, 1, 0, 0, 0, 0, (byte)'t', (byte)'.', (byte)'m', (byte)'d'];
        return what switch
        {
            "a second table" => zip.Add("table.md", Good).Add("table.md", Forged).End(),
            "a second table in capitals" => zip.Add("table.md", Good).Add("TABLE.md", Forged).End(),
            "a member that is none of ours" => zip.Add("table.md", Good).Add("extra.sh", Forged).End(),
            "a member above the folder" => zip.Add("table.md", Good).Add("../table.md", Forged).End(),
            "a name with a line end" => zip.Add("table.md", Good).Add("table.md\u001b\n", Forged).End(),
            "a table before the first member that the directory does not list" => zip.Add("table.md", Forged, listed: false).Add("table.md", Good).End(),
            "a table between members that the directory does not list" => zip.Add("about.json", Good).Add("table.md", Forged, listed: false).Add("table.md", Good).End(),
            "bytes before the zip" => zip.Raw("#!/bin/sh\n"u8).Add("table.md", Good).End(),
            "another name in the header than in the directory" => zip.Add("table.md", Good, nameInHeader: "forged.md").End(),
            "another length in the header than in the directory" => Patched(zip.Add("table.md", Good).End(), 22, 1),
            "another name in a field" => zip.Add("table.md", Good, extra: otherName).End(),
            "a link" => zip.Add("table.md", Good, external: 0xA1FF0000).End(),
            "an encrypted member" => zip.Add("table.md", Good, flags: 1).End(),
            "bytes behind the compressed data" => zip.Add("table.md", Good).Raw(1, 2, 3).End(),
            "bytes behind the data inside the member" => zip.Add("table.md", Good, behindData: [1, 2, 3]).End(),
            "a comment" => zip.Add("table.md", Good).End("PK"),
            "a zip behind the zip" => [.. new RawZip().Add("table.md", Forged).End(), .. zip.Add("table.md", Good).End()],
            "a member longer than stated" => zip.Add("table.md", Good, claims: Good.Length - 1).End(),
            "a member shorter than stated" => zip.Add("table.md", Good, claims: Good.Length + 1).End(),
            "a wrong checksum" => WithWrongChecksum(zip.Add("table.md", Good).End()),
            "zeros that become a thousand times as much" => zip.Add("table.md", new byte[8 << 20]).End(),
            "seventeen members" => Enumerable.Range(0, 17).Aggregate(zip, (z, i) => z.Add($"t{i}", Good)).End(),
            _ => [],
        };
    }

    private static byte[] Patched(byte[] zip, int at, byte by)
    {
        zip[at] += by;
        return zip;
    }

    /// <summary>In the header and in the directory alike.</summary>
    private static byte[] WithWrongChecksum(byte[] zip)
    {
        int directory = zip.AsSpan().LastIndexOf("PK\u0001\u0002"u8);
        return Patched(Patched(zip, 14, 1), directory + 16, 1);
    }

    private static byte[] Read(byte[] zip) => BoundedZip.Open(new MemoryStream(zip), "x.zip", Expected).Read("table.md", 16 << 20);

    /// <summary>Gives one byte at a time, as a slow pipe does.</summary>
    private sealed class OneByteStream(byte[] bytes) : MemoryStream(bytes)
    {
        public override int Read(Span<byte> buffer) => base.Read(buffer[..Math.Min(1, buffer.Length)]);

        public override int Read(byte[] buffer, int offset, int count) => base.Read(buffer, offset, Math.Min(1, count));
    }
}
