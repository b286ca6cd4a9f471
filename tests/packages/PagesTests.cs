using System.CommandLine;
using System.Text.RegularExpressions;
using Cardassay.EmulatedBoard.Harness;
using Cardassay.Pages;
using Cardassay.Service;

namespace Cardassay.Packages.Tests;

/// <summary>Man pages, completion and configuration files say everything the programs can do; the programs' own help is the yardstick.</summary>
public sealed partial class PagesTests
{
    public static TheoryData<string> Programs => [.. DescribedProgram.All.Select(p => p.Name)];

    [SkippableTheory]
    [MemberData(nameof(Programs))]
    public async Task ManPage_HasEveryCommandOptionAndArgumentOfTheHelp(string name)
    {
        Tools.Require("groff");
        DescribedProgram program = Find(name);
        string file = WorkFolder.NewPath($"{name}.1");
        File.WriteAllText(file, ManPage.OfProgram(program));
        Ran lint = (await Ran.ItAsync("groff", "-man", "-Tutf8", "-ww", "-z", file)).Expect(0);
        Assert.Empty(lint.Said);
        string page = (await Ran.ItAsync("groff", "-man", "-Tascii", "-P-cbou", "-rLL=400n", file)).Expect(0).Output;

        foreach (Command command in program.Root.Subcommands.Where(c => !c.Hidden))
        {
            string help = Help(program.Root, command.Name, "--help");
            int at = page.IndexOf($"   {command.Name}\n", StringComparison.Ordinal);
            Assert.True(at >= 0, $"no section {command.Name}");
            int next = SubSection().Match(page, at + 5 + command.Name.Length) is { Success: true } match ? match.Index : page.Length;
            string section = page[at..next] + page[page.IndexOf("OPTIONS OF EVERY COMMAND", StringComparison.Ordinal)..];
            string[] options = [.. OptionInHelp().Matches(help).Select(m => m.Groups[1].Value).Distinct()];
            Assert.Contains("--help", options);
            Assert.All(options, option => Assert.Matches($@"(?m)^\s+(-\S+, )*{option}\b", section));
            Assert.All(command.Arguments, argument => Assert.Contains(argument.Name, section, StringComparison.Ordinal));
        }
    }

    [Theory]
    [MemberData(nameof(Programs))]
    public void Configuration_HasEverySettingAndIsTakenByTheProgramAsItStands(string name)
    {
        DescribedProgram program = Find(name);
        string template = ConfigurationTemplate.Of(program);
        string manual = ManPage.OfConfiguration(program);
        Assert.Empty(ConfigurationFile.Parse("template", System.Text.Encoding.UTF8.GetBytes(template))); // installed, it changes nothing
        Assert.True(program.Settings.All.Count >= 4);
        foreach (string key in program.Settings.All.Select(Settings.KeyOf))
        {
            Assert.Single(Regex.Matches(template, $"(?m)^#{Regex.Escape(key)} = "));
            Assert.Contains($".BI {key.Replace("-", "\\-", StringComparison.Ordinal)} ", manual, StringComparison.Ordinal);
        }

        // Every default that is written there is one.
        string file = WorkFolder.NewPath("all.conf");
        File.WriteAllLines(file, Commented().Matches(template).Select(m => m.Value[1..]).Where(line => !Placeholder().IsMatch(line)));
        ConfiguredParse parsed = program.Settings.Parse(["--config", file, program.Name == "cardassay-agent" ? "work" : "serve"]);
        Assert.Empty(parsed.Result.Errors.Where(e => !e.Message.Contains("required", StringComparison.Ordinal)));
        Assert.NotEmpty(parsed.Settings);
    }

    [SkippableTheory]
    [InlineData("cardassay-agent me", "measure")]
    [InlineData("cardassay-agent ", "identify measure prove work backlog")]
    [InlineData("cardassay-agent measure /media/card --pl", "--plan --plain-text")]
    [InlineData("/usr/bin/cardassay-agent identify mmcblk0 --claim-g", "--claim-gb")]
    public async Task BashCompletion_ProposesWhatCanStandThere(string line, string expected)
    {
        Tools.RequirePublishing();
        Tools.Require("bash");
        string folder = Path.GetDirectoryName(await PublishedAgent.ObtainAsync("linux-x64"))!;
        string script = WorkFolder.NewPath("completion.bash");
        File.WriteAllText(script, Completion.Bash(Find("cardassay-agent")));
        Ran ran = (await Ran.ItAsync(
            "bash", "--norc", "-c",
            "PATH=$1:$PATH; . \"$2\"; COMP_LINE=$3; COMP_POINT=${#3}; read -ra COMP_WORDS <<< \"$3\"; case $3 in *' ') COMP_WORDS+=('') ;; esac; "
            + "COMP_CWORD=$((${#COMP_WORDS[@]} - 1)); _cardassay_agent; printf '%s\\n' \"${COMPREPLY[@]}\"",
            "completion", folder, script, line)).Expect(0);
        string[] proposed = ran.Output.Split('\n');
        Assert.All(expected.Split(' '), word => Assert.Contains(word, proposed));
    }

    private static DescribedProgram Find(string name) => DescribedProgram.All.Single(p => p.Name == name);

    private static string Help(RootCommand root, params string[] arguments)
    {
        using var output = new StringWriter();
        Assert.Equal(0, root.Parse(arguments).Invoke(new InvocationConfiguration { Output = output }));
        return output.ToString();
    }

    [GeneratedRegex(@"(?m)^ +(?:-\S+, )*(--[a-z][a-z-]*)")]
    private static partial Regex OptionInHelp();

    [GeneratedRegex(@"(?m)^(   )?\S")]
    private static partial Regex SubSection();

    [GeneratedRegex(@"(?m)^#[a-z-]+ = .*$")]
    private static partial Regex Commented();

    [GeneratedRegex(@" = [A-Z:|]+$")]
    private static partial Regex Placeholder();
}
