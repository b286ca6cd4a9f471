using System.Collections;
using System.CommandLine;
using System.Globalization;

namespace Cardassay.Pages;

/// <summary>How an option is written on pages.</summary>
internal static class OptionText
{
    /// <summary>Options of a command that a person may use, in the order of their names.</summary>
    internal static IEnumerable<Option> Of(Command command) => command.Options.Where(o => !o.Hidden).OrderBy(o => o.Name, StringComparer.Ordinal);

    /// <summary>Name of its value, "YES|NO" never: a switch has none.</summary>
    internal static string? ValueName(Option option) =>
        option.Arity.MaximumNumberOfValues == 0 || option.ValueType == typeof(bool) || option.ValueType == typeof(void) ? null
        : option.HelpName ?? (option.ValueType == typeof(string) ? "TEXT" : "NUMBER");

    /// <summary>Its default as text where it is the same on every machine; else null.</summary>
    internal static string? Default(Option option)
    {
        // A default that names a folder depends on the user and is told of in the description.
        if (!option.HasDefaultValue || option.Name == "--data" || ValueName(option) is null)
        {
            return null;
        }

        return option.GetDefaultValue() switch
        {
            null or "" => null,
            string text => text,
            IEnumerable => null,
            IFormattable number => number.ToString(null, CultureInfo.InvariantCulture),
            var other => other.ToString(),
        };
    }
}
