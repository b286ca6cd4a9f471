using System.CommandLine;
using Cardassay.Service;

namespace Cardassay.SharedCore.Tests.Service;

public sealed class SettingsTests : IDisposable
{
    private static readonly Option<string?> Data = new("--data") { Recursive = true };
    private static readonly Option<string?> Address = new("--address") { Required = true };
    private static readonly Option<bool> Open = new("--open");
    private static readonly Option<double> Wait = new("--wait") { DefaultValueFactory = _ => 30 };
    private static readonly Option<bool> Once = new("--once");

    private readonly string _folder = Directory.CreateTempSubdirectory().FullName;

    private string FilePath => Path.Combine(_folder, "some.conf");

    [Fact]
    public void Parse_FileGivesWhatTheCommandLineDoesNot()
    {
        ParseResult parsed = Parse("address = a:1\nopen = yes\nwait = 2.5\ndata = /srv/x y", "serve", "--wait", "7");
        Assert.Empty(parsed.Errors);
        Assert.Equal(("a:1", true, 7.0, "/srv/x y"), (parsed.GetValue(Address), parsed.GetValue(Open), parsed.GetValue(Wait), parsed.GetValue(Data)));
    }

    [Fact]
    public void Parse_OtherCommand_TakesOnlyWhatItHas()
    {
        ParseResult parsed = Parse("address = a:1\ndata = /srv/x", "list", "--", "--data");
        Assert.Empty(parsed.Errors);
        Assert.Equal("/srv/x", parsed.GetValue(Data));
        Assert.Equal("--data", parsed.GetValue<string>("NAME"));
    }

    [Fact]
    public void Parse_WithoutFile_ReadsNone()
    {
        ConfiguredParse parsed = Make().Parse(["serve", "--address", "a:1"]);
        Assert.Null(parsed.Path);
        Assert.Empty(parsed.Result.Errors);
    }

    [Theory]
    [InlineData("adress = a:1", "there is no setting \"adress\"", "address, data, open, wait")]
    [InlineData("once = yes", "there is no setting \"once\"", "")]
    [InlineData("config = /etc/other", "there is no setting \"config\"", "")]
    [InlineData("help = yes", "there is no setting \"help\"", "")]
    [InlineData("--address = a:1", "there is no setting \"--address\"", "")]
    [InlineData("open = perhaps", "open is \"perhaps\"", "yes or no")]
    [InlineData("wait = long", "wait = long", "")]
    [InlineData("wait = 1\nwait = 2", "wait was set in line 1 already", "")]
    public void Parse_BadSetting_NamesFileLineKeyAndRemedy(string text, string fault, string remedy)
    {
        ConfigurationException e = Assert.Throws<ConfigurationException>(() => Parse(text, "serve"));
        Assert.StartsWith($"{FilePath}, line ", e.Message, StringComparison.Ordinal);
        Assert.Contains(fault, e.Message, StringComparison.Ordinal);
        Assert.Contains(remedy, e.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Explain_SentenceAboutAnOptionThatTheFileSets_NamesThePlace()
    {
        File.WriteAllText(FilePath, "\naddress = nonsense\n");
        ConfiguredParse parsed = Make().Parse(["serve", "--config", FilePath]);
        Assert.Equal(
            $"--address \"nonsense\" is no address. (address is set in {FilePath}, line 2.)", parsed.Explain("--address \"nonsense\" is no address."));
        Assert.Equal("--open is wrong.", parsed.Explain("--open is wrong."));
    }

    [Fact]
    public void ServiceFolder_BelongsToItsUserAndIsRefusedToRoot()
    {
        Directory.CreateDirectory(Path.Combine(_folder, "some-agent"));
        Assert.Equal(Path.Combine(_folder, "some-agent"), ServiceFolder.Own("some-agent", "some-agent", _folder));
        Assert.Null(ServiceFolder.Own("some-agent", "root", _folder));
        Assert.Null(ServiceFolder.Own("other-agent", "other-agent", _folder));
        Assert.Contains("sudo -u some-agent", ServiceFolder.Objection("some-agent", isRoot: true, _folder), StringComparison.Ordinal);
        Assert.Null(ServiceFolder.Objection("some-agent", isRoot: false, _folder));
        Assert.Null(ServiceFolder.Objection("other-agent", isRoot: true, _folder));
    }

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    private static Settings Make()
    {
        var serve = new Command("serve") { Address, Open, Wait, Once };
        var root = new RootCommand { serve, new Command("list") { new Argument<string>("NAME") } };
        root.Options.Add(Data);
        root.Options.Add(Settings.ConfigOption);
        return new Settings(root, serve, "--once");
    }

    private ParseResult Parse(string text, params string[] arguments)
    {
        File.WriteAllText(FilePath, text);
        return Make().Parse(["--config", FilePath, .. arguments]).Result;
    }
}
