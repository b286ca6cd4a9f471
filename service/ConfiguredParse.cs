using System.CommandLine;
using System.Globalization;

namespace Cardassay.Service;

/// <summary>A command line with what a configuration file added to it.</summary>
/// <param name="Result">What to run.</param>
/// <param name="Path">The file; null when there was none.</param>
/// <param name="Settings">What stands in it.</param>
public sealed record ConfiguredParse(ParseResult Result, string? Path, IReadOnlyList<Setting> Settings)
{
    /// <summary>Adds to a sentence about an option where the file sets it, so that nobody looks for it on the command line.</summary>
    public string Explain(string sentence) => Settings.FirstOrDefault(s => sentence.Contains($"--{s.Key} ", StringComparison.Ordinal)) is { } setting
        ? string.Create(CultureInfo.InvariantCulture, $"{sentence} ({setting.Key} is set in {Path}, line {setting.Line}.)")
        : sentence;
}
