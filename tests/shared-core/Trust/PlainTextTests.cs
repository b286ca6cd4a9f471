using System.Diagnostics;
using System.Globalization;
using System.Text;
using System.Text.Json;
using Cardassay.Trust;

namespace Cardassay.SharedCore.Tests.Trust;

public sealed class PlainTextTests
{
    /// <summary>Perl has Unicode tables of its own, made from the standard's files and not from .NET's.</summary>
    private const string PerlProgram = @"for (0..0x10FFFF) { next if $_ >= 0xD800 && $_ <= 0xDFFF; print ""$_\n"" if chr($_) =~ /\p{Cc}|\p{Cf}|\p{Zl}|\p{Zp}|\p{DI}|\p{NChar}/ }";

    [SkippableFact]
    public void IsUnsafe_EveryCodePoint_AgreesWithThePropertiesOfUnicodeAsPerlHasThem()
    {
        Skip.IfNot(File.Exists("/usr/bin/perl"), "There is no perl on this machine.");
        using var perl = Process.Start(new ProcessStartInfo("/usr/bin/perl", ["-e", PerlProgram]) { RedirectStandardOutput = true })!;
        int[] expected = [.. perl.StandardOutput.ReadToEnd().Split('\n', StringSplitOptions.RemoveEmptyEntries).Select(l => int.Parse(l, CultureInfo.InvariantCulture))];
        perl.WaitForExit();
        Skip.If(perl.ExitCode != 0 || expected.Length == 0, "This perl has no Unicode tables.");
        int[] found = [.. Enumerable.Range(0, 0x110000).Where(c => Rune.IsValid(c) && PlainText.IsUnsafe(new Rune(c)))];
        Assert.Equal([], expected.Except(found)); // a later Unicode may have more
        Assert.InRange(found.Except(expected).Count(), 0, 20);
        Assert.True(found.Length > 4_000, found.Length.ToString(CultureInfo.InvariantCulture));
    }

    [Theory]
    [InlineData("T-07", "T-07")]
    [InlineData("Grün 東京 🌊 é", "Grün 東京 🌊 é")]
    [InlineData("a\u202Eb", "a\uFFFDb")]
    [InlineData("\u001B[31m", "\uFFFD[31m")]
    [InlineData("\u009B31m", "\uFFFD31m")]
    [InlineData("a\u200Bb\u2066c\u061Cd", "a\uFFFDb\uFFFDc\uFFFDd")]
    [InlineData("a\U000E0041b", "a\uFFFDb")]
    [InlineData("a\nb\rc\td", "a\uFFFDb\uFFFDc\uFFFDd")]
    [InlineData("\u2028\u3164\u034F\uFFFF", "\uFFFD\uFFFD\uFFFD\uFFFD")]
    public void Clean_Text_LosesWhatNobodySees(string text, string expected) => Assert.Equal(expected, PlainText.Clean(text));

    [Fact]
    public void Clean_HalvesOfPairs_AreReplacedAndPairsStay()
    {
        Assert.Equal("\uFFFDa\uFFFD", PlainText.Clean("\uD83Ca\uDF0A"));
        Assert.Equal("a\nb", PlainText.CleanLines("a\nb"));
        Assert.Equal("a\uFFFD\nb", PlainText.CleanLines("a\r\nb"));
    }

    [Fact]
    public void EscapedJson_EveryCharacter_ShowsNoneAndIsReadAsItWas()
    {
        string all = string.Concat(Enumerable.Range(0, 0x110000).Where(Rune.IsValid).Select(c => new Rune(c)).Where(PlainText.IsUnsafe)) + "a🌊";
        string json = JsonSerializer.Serialize(new Dictionary<string, string> { ["text"] = all }, new JsonSerializerOptions
        {
            WriteIndented = true, Encoder = System.Text.Encodings.Web.JavaScriptEncoder.UnsafeRelaxedJsonEscaping,
        });
        string escaped = PlainText.EscapedJson(json);
        Assert.NotEqual(json, escaped);
        Assert.Equal(PlainText.CleanLines(escaped), escaped);
        Assert.Equal(all, JsonDocument.Parse(escaped).RootElement.GetProperty("text").GetString());
    }

    [Fact]
    public void PlainWriter_TextInAnyPieces_IsWrittenClean()
    {
        const string text = "one\u001B[2J 🌊\U000E0041\u202E\r\ntwo\uD83C";
        using var whole = new StringWriter();
        using (var writer = new PlainWriter(whole))
        {
            writer.WriteLine(text);
        }

        using var single = new StringWriter();
        using (var writer = new PlainWriter(single))
        {
            foreach (char c in text)
            {
                writer.Write(c);
            }

            writer.WriteLine();
        }

        using var pieces = new StringWriter();
        using (var writer = new PlainWriter(pieces))
        {
            for (int i = 0; i < text.Length; i += 3)
            {
                writer.Write(text[i..Math.Min(text.Length, i + 3)]);
            }

            writer.WriteLine();
        }

        Assert.Equal("one\uFFFD[2J 🌊\uFFFD\uFFFD\uFFFD\ntwo\uFFFD\n", whole.ToString());
        Assert.Equal(whole.ToString(), single.ToString());
        Assert.Equal(whole.ToString(), pieces.ToString());
    }
}
