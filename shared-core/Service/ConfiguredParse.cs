using System.CommandLine;
using System.Globalization;

namespace Cardassay.Service;

/// <summary>A command line with what a configuration file added to it.</summary>
/// <param name="Result">What to run.</param>
/// <param name="Path">The file; null when there was none.</param>
/// <param name="Settings">What stands in it.</param>
public sealed record ConfiguredParse(ParseResult Result, string? Path, IReadOnlyList<Setting> Settings)
{
    /// <summary>
    /// Why the command should not run: as root, without a folder named, beside an installed service. Null when nothing speaks against it,
    /// and for what is no command of ours (help, version, a folder of commands).
    /// </summary>
    /// <param name="data">The option that names the folder.</param>
    /// <param name="serviceName">Name of the service, its user and its folder.</param>
    public string? ObjectionForRoot(Option data, string serviceName) =>
        Result.CommandResult.Command.Action is { } action && Result.Action == action && Result.GetResult(data) is null or { Implicit: true }
            ? ServiceFolder.ObjectionForRoot(serviceName)
            : null;

    /// <summary>Adds to a sentence about an option where the file sets it, so that nobody looks for it on the command line.</summary>
    public string Explain(string sentence) =>
        Settings.FirstOrDefault(s => sentence.Contains($"--{s.Key} ", StringComparison.Ordinal)) is { } setting
        ? string.Create(CultureInfo.InvariantCulture, $"{sentence} ({setting.Key} is set in {Path}, line {setting.Line}.)")
        : sentence;
}

/// <summary>A configuration file cannot be used; the message is one sentence that names the file, the line and what to do.</summary>
public sealed class ConfigurationException(string message, Exception? inner = null) : Exception(message, inner);
