using System.CommandLine;
using Cardassay.Service;

namespace Cardassay.Pages;

/// <summary>A program whose pages are made from its own command definitions.</summary>
/// <param name="Name">Name of the program.</param>
/// <param name="Summary">What it is, for the first line of its man page.</param>
/// <param name="Version">Its version.</param>
/// <param name="Root">Its commands.</param>
/// <param name="Settings">What its configuration file can set.</param>
/// <param name="ConfigurationName">Name of that file below /etc/cardassay.</param>
internal sealed record DescribedProgram(string Name, string Summary, string Version, RootCommand Root, Settings Settings, string ConfigurationName)
{
    /// <summary>Both programs.</summary>
    internal static IReadOnlyList<DescribedProgram> All { get; } = [Agent(), Collector()];

    /// <summary>The folder the configuration is installed in.</summary>
    internal string ConfigurationPath => $"/etc/cardassay/{ConfigurationName}";

    /// <summary>The folder the service keeps its data in.</summary>
    internal string StatePath => $"/var/lib/{Name}";

    /// <summary>All files made for the program, by their path below a folder.</summary>
    internal IEnumerable<(string Path, string Text)> Files() =>
    [
        ($"man/{Name}.1", ManPage.OfProgram(this)),
        ($"man/{Name}.conf.5", ManPage.OfConfiguration(this)),
        ($"etc/{ConfigurationName}", ConfigurationTemplate.Of(this)),
        ($"completion/{Name}.bash", Completion.Bash(this)),
        ($"completion/_{Name}", Completion.Zsh(this)),
        ($"completion/{Name}.fish", Completion.Fish(this)),
    ];

    /// <summary>The part of a description before its example, and the example without its word, or null.</summary>
    internal static (string Text, string? Example) Split(string? description)
    {
        string[] parts = (description ?? "").Split("\n\nExample: ", 2);
        return (parts[0], parts.Length > 1 ? parts[1] : null);
    }

    private static DescribedProgram Agent()
    {
        RootCommand root = Cardassay.Agent.Commands.CommandLine.Build();
        return new DescribedProgram(
            "cardassay-agent", "measures the SD card in this board", Cardassay.Agent.AgentVersion.Text, root,
            Cardassay.Agent.Commands.CommandLine.SettingsOf(root), "agent.conf");
    }

    private static DescribedProgram Collector()
    {
        RootCommand root = Cardassay.Collector.Commands.CommandLine.Build();
        return new DescribedProgram(
            "cardassay-collector", "keeps what boards measured of SD cards, and reports", Cardassay.Collector.CollectorVersion.Text, root,
            Cardassay.Collector.Commands.CommandLine.SettingsOf(root), "collector.conf");
    }
}
