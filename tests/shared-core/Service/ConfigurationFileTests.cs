using System.Text;
using Cardassay.Service;

namespace Cardassay.SharedCore.Tests.Service;

public class ConfigurationFileTests
{
    private const string File = "/etc/cardassay/agent.conf";

    [Fact]
    public void Parse_TakesKeysAndValuesAsTheyStand()
    {
        Assert.Equal(
            [new Setting("board", "harbour 1 = east", 3), new Setting("collector", "http://127.0.0.1:7422", 5)],
            Parse("# a comment\n\n  board = harbour 1 = east  \r\n\t# another\ncollector=http://127.0.0.1:7422"));
        Assert.Equal([new Setting("a", "b", 1)], ConfigurationFile.Parse(File, [0xEF, 0xBB, 0xBF, .. "a=b"u8]));
        Assert.Empty(Parse(""));
    }

    [Theory]
    [InlineData("board", "line 1", "key = value")]
    [InlineData("\n= x", "line 2", "key = value")]
    [InlineData("board =", "line 1", "board has no value")]
    [InlineData("board = a\u0007b", "line 1", "control character")]
    public void Parse_LineThatIsNoSetting_NamesFileLineAndFault(string text, string line, string fault)
    {
        ConfigurationException e = Assert.Throws<ConfigurationException>(() => Parse(text));
        Assert.Contains($"{File}, {line}", e.Message, StringComparison.Ordinal);
        Assert.Contains(fault, e.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Parse_NoText_SaysSo() =>
        Assert.Contains("UTF-8", Assert.Throws<ConfigurationException>(() => ConfigurationFile.Parse(File, [0x61, 0xFF, 0x3D])).Message, StringComparison.Ordinal);

    [Fact]
    public void Read_FileThatIsNotThereTooLargeOrAFolder_SaysWhich()
    {
        string folder = Directory.CreateTempSubdirectory().FullName;
        try
        {
            string file = Path.Combine(folder, "agent.conf");
            Assert.Contains(file, Assert.Throws<ConfigurationException>(() => ConfigurationFile.Read(file)).Message, StringComparison.Ordinal);
            Assert.Contains(folder, Assert.Throws<ConfigurationException>(() => ConfigurationFile.Read(folder)).Message, StringComparison.Ordinal);
            System.IO.File.WriteAllText(file, new string('#', ConfigurationFile.MostBytes));
            Assert.Empty(ConfigurationFile.Read(file));
            System.IO.File.WriteAllText(file, new string('#', ConfigurationFile.MostBytes + 1));
            Assert.Contains("larger", Assert.Throws<ConfigurationException>(() => ConfigurationFile.Read(file)).Message, StringComparison.Ordinal);
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    [Fact]
    public void Parse_AnyBytes_GivesSettingsOrASentence()
    {
        const int Seed = 20261125;
        var random = new Random(Seed);
        byte[] liked = Encoding.UTF8.GetBytes("abcdefg====# \t\r\n\n\né");
        int settings = 0, refused = 0;
        for (int round = 0; round < 20_000; round++)
        {
            byte[] bytes = new byte[random.Next(20)];
            for (int i = 0; i < bytes.Length; i++)
            {
                bytes[i] = random.Next(40) == 0 ? (byte)random.Next(256) : liked[random.Next(liked.Length)];
            }

            try
            {
                settings += ConfigurationFile.Parse(File, bytes).Count;
            }
            catch (ConfigurationException e)
            {
                refused++;
                Assert.Contains(File, e.Message, StringComparison.Ordinal);
            }
        }

        Assert.True(settings > 100 && refused > 100, $"seed {Seed}: {settings} settings, {refused} refused");
    }

    private static IReadOnlyList<Setting> Parse(string text) => ConfigurationFile.Parse(File, Encoding.UTF8.GetBytes(text));
}
