using System.CommandLine;
using System.CommandLine.Help;
using System.CommandLine.Parsing;
using System.Globalization;

namespace Cardassay.Service;

/// <summary>
/// The settings of a program: every option of its service command is a setting of the same name, so that both mean the same and
/// a new option is a setting at once. An option on the command line goes before the file.
/// </summary>
/// <param name="root">The program's commands.</param>
/// <param name="service">The command that is the service.</param>
/// <param name="notSettings">Options that make no sense in a file, by name ("--until-idle").</param>
public sealed class Settings(RootCommand root, Command service, params IReadOnlyCollection<string> notSettings)
{
    /// <summary>The option that names the file.</summary>
    public static readonly Option<string?> ConfigOption = new("--config")
    {
        Description = "Take settings that are not given here from this file.",
        HelpName = "FILE",
        Recursive = true,
    };

    /// <summary>The options that are settings, in the order of their names.</summary>
    public IReadOnlyList<Option> All { get; } =
    [
        .. service.Options.Concat(root.Options.Where(o => o.Recursive))
            .Where(o => o is not HelpOption && o != ConfigOption && !o.Hidden && !notSettings.Contains(o.Name))
            .OrderBy(o => o.Name, StringComparer.Ordinal),
    ];

    /// <summary>The key of an option in a file.</summary>
    public static string KeyOf(Option option) => option.Name.TrimStart('-');

    /// <summary>An argument that begins with @ is a text like any other: no file of that name is read in its place.</summary>
    private static readonly ParserConfiguration AsGiven = new() { ResponseFileTokenReplacer = null };

    /// <summary>Parses a command line together with the file its `--config` names.</summary>
    /// <exception cref="ConfigurationException">The file cannot be used; the sentence names file, line and key.</exception>
    public ConfiguredParse Parse(string[] arguments)
    {
        ParseResult given = root.Parse(arguments, AsGiven);
        if (given.GetResult(ConfigOption) is not { Implicit: false, Errors: var errors } || errors.Any()
            || given.GetValue(ConfigOption) is not { } path)
        {
            return new ConfiguredParse(given, null, []);
        }

        IReadOnlyList<Setting> settings = ConfigurationFile.Read(path);
        foreach (Setting setting in settings)
        {
            Check(path, setting, settings);
        }

        List<string> added = [.. settings.Where(s => Applies(s, given)).Select(s => $"--{s.Key}={Value(s)}")];
        int end = Array.IndexOf(arguments, "--");
        end = end < 0 ? arguments.Length : end;
        return new ConfiguredParse(root.Parse([.. arguments.Take(end), .. added, .. arguments.Skip(end)], AsGiven), path, settings);
    }

    private void Check(string path, Setting setting, IReadOnlyList<Setting> all)
    {
        string place = string.Create(CultureInfo.InvariantCulture, $"{path}, line {setting.Line}");
        if (Find(setting.Key) is not { } option)
        {
            throw new ConfigurationException(
                $"{place}: there is no setting \"{setting.Key}\"; the settings are {string.Join(", ", All.Select(KeyOf))}.");
        }

        if (all.FirstOrDefault(s => s.Key == setting.Key && s.Line < setting.Line) is { } first && option.Arity.MaximumNumberOfValues <= 1)
        {
            throw new ConfigurationException(string.Create(
                CultureInfo.InvariantCulture, $"{place}: {setting.Key} was set in line {first.Line} already; keep one of the two."));
        }

        if (option.ValueType == typeof(bool) && Value(setting) is not ("true" or "false"))
        {
            throw new ConfigurationException($"{place}: {setting.Key} is \"{setting.Value}\", but can only be yes or no.");
        }

        ParseResult alone = root.Parse([service.Name, $"{option.Name}={Value(setting)}"], AsGiven);
        if (alone.GetResult(option)?.Errors.FirstOrDefault() is { } error)
        {
            throw new ConfigurationException($"{place}: {setting.Key} = {setting.Value} is not understood: {error.Message}");
        }
    }

    private Option? Find(string key) => All.FirstOrDefault(o => KeyOf(o) == key);

    // A setting of the service that another command has no use for is left out there.
    private bool Applies(Setting setting, ParseResult given)
    {
        Option option = Find(setting.Key)!;
        Option? ofCommand = given.CommandResult.Command.Options.FirstOrDefault(o => o.Name == option.Name)
            ?? (option.Recursive ? option : null);
        return ofCommand is not null && given.GetResult(ofCommand) is null or { Implicit: true };
    }

    private string Value(Setting setting) => Find(setting.Key)?.ValueType != typeof(bool)
        ? setting.Value
        : setting.Value switch { "yes" => "true", "no" => "false", _ => setting.Value };
}
