using System.CommandLine;
using System.Globalization;
using System.Text;
using Cardassay.Service;

namespace Cardassay.Pages;

/// <summary>A configuration file that says everything it could set, with every setting still a comment.</summary>
internal static class ConfigurationTemplate
{
    private const int Width = 100;

    internal static string Of(DescribedProgram program)
    {
        var file = new StringBuilder();
        file.Append(CultureInfo.InvariantCulture, $"""
            # What the service {program.Name} is told; see {program.Name}.conf(5).
            # One "key = value" per line. An option on the command line goes before this file.
            # The service reads it when it starts: systemctl restart {program.Name}

            """);
        foreach (Option option in program.Settings.All)
        {
            file.Append('\n');
            foreach (string line in Wrap(option.Description ?? ""))
            {
                file.Append(CultureInfo.InvariantCulture, $"# {line}\n");
            }

            string value = OptionText.Default(option) ?? OptionText.ValueName(option) ?? "no";
            file.Append(CultureInfo.InvariantCulture, $"#{Settings.KeyOf(option)} = {value}\n");
        }

        return file.ToString();
    }

    private static IEnumerable<string> Wrap(string text)
    {
        var line = new StringBuilder();
        foreach (string word in text.Split([' ', '\n'], StringSplitOptions.RemoveEmptyEntries))
        {
            if (line.Length > 0 && line.Length + 1 + word.Length > Width)
            {
                yield return line.ToString();
                line.Clear();
            }

            line.Append(line.Length > 0 ? " " : "").Append(word);
        }

        if (line.Length > 0)
        {
            yield return line.ToString();
        }
    }
}
