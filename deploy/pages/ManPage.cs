using System.CommandLine;
using System.CommandLine.Help;
using System.Globalization;
using System.Text;
using Cardassay.Service;

namespace Cardassay.Pages;

/// <summary>Manual pages. Source: man-pages(7) for the order of sections, man(7) for the macros.</summary>
internal static class ManPage
{
    /// <summary>Section 1: the program with all its commands.</summary>
    internal static string OfProgram(DescribedProgram program)
    {
        var page = new StringBuilder();
        Head(page, program.Name, 1, program);
        page.Append(CultureInfo.InvariantCulture, $".SH NAME\n{Escape(program.Name)} \\- {Escape(program.Summary)}\n");
        page.Append(CultureInfo.InvariantCulture, $".SH SYNOPSIS\n.B {Escape(program.Name)}\n.I COMMAND\n[\\fIOPTIONS\\fR]\n");
        page.Append(".SH DESCRIPTION\n");
        Described(page, program.Root.Description);
        page.Append(".SH COMMANDS\n");
        foreach (Command command in program.Root.Subcommands.Where(c => !c.Hidden))
        {
            OfCommand(page, program.Name, command);
        }

        page.Append(".SH OPTIONS OF EVERY COMMAND\n");
        foreach (Option option in OptionText.Of(program.Root))
        {
            OfOption(page, option);
        }

        page.Append("""
            .SH EXIT STATUS
            .TP
            .B 0
            Done, nothing found.
            .TP
            .B 1
            Something was found or failed.
            .TP
            .B 2
            The command cannot be carried out as written.

            """);
        page.Append(CultureInfo.InvariantCulture, $"""
            .SH ENVIRONMENT
            .TP
            .B CARDASSAY_DATA
            The data folder, where \fB\-\-data\fR is not given.
            .TP
            .B STATE_DIRECTORY
            The same, set by the service manager.
            .TP
            .BR NOTIFY_SOCKET ", " WATCHDOG_USEC
            Set by the service manager: whom to tell of progress, and how often.
            .SH FILES
            .TP
            .I {Escape(program.ConfigurationPath)}
            What the service is told; see
            .BR {Escape(program.Name)}.conf (5).
            .TP
            .I {Escape(program.StatePath)}
            The data of the service.
            .SH SEE ALSO
            .BR {Escape(program.Name)}.conf (5),
            .BR {string.Join(",\n.BR ", DescribedProgram.All.Where(p => p.Name != program.Name).Select(p => $"{Escape(p.Name)} (1)"))}

            """);
        return page.ToString();
    }

    /// <summary>Section 5: the configuration file.</summary>
    internal static string OfConfiguration(DescribedProgram program)
    {
        var page = new StringBuilder();
        Head(page, program.Name + ".conf", 5, program);
        page.Append(CultureInfo.InvariantCulture, $"""
            .SH NAME
            {Escape(program.Name)}.conf \- what the service {Escape(program.Name)} is told
            .SH SYNOPSIS
            .I {Escape(program.ConfigurationPath)}
            .SH DESCRIPTION
            One setting per line,
            .RI \(dq key " = " value\(dq.
            Empty lines, and lines that begin with #, say nothing.
            A setting is the option of the same name; one on the command line goes before the file.
            An unknown key, a key without a value and a key set twice are refused, with file, line and key.
            .SH SETTINGS

            """);
        foreach (Option option in program.Settings.All)
        {
            page.Append(CultureInfo.InvariantCulture, $".TP\n.BI {Escape(Settings.KeyOf(option))} \" = {Escape(OptionText.ValueName(option) ?? "yes|no")}\"\n");
            Paragraph(page, option.Description);
            if (OptionText.Default(option) is { } value)
            {
                page.Append(CultureInfo.InvariantCulture, $"Default: {Escape(value)}.\n");
            }
        }

        page.Append(CultureInfo.InvariantCulture, $".SH SEE ALSO\n.BR {Escape(program.Name)} (1)\n");
        return page.ToString();
    }

    private static void Head(StringBuilder page, string title, int section, DescribedProgram program) => page.Append(
        CultureInfo.InvariantCulture, $".TH \"{Escape(title.ToUpperInvariant())}\" {section} \"\" \"{Escape(program.Version)}\" \"Cardassay\"\n.nh\n.ad l\n");

    private static void OfCommand(StringBuilder page, string program, Command command)
    {
        page.Append(CultureInfo.InvariantCulture, $".SS {Escape(command.Name)}\n.B {Escape(program)} {Escape(command.Name)}\n");
        foreach (Argument argument in command.Arguments.Where(a => !a.Hidden))
        {
            string name = Escape(argument.Name);
            string many = argument.Arity.MaximumNumberOfValues > 1 ? " ..." : "";
            page.Append(argument.Arity.MinimumNumberOfValues > 0 ? $"\\fI{name}\\fR{many}\n" : $"[\\fI{name}\\fR{many}]\n");
        }

        page.Append("[\\fIOPTIONS\\fR]\n.PP\n");
        Described(page, command.Description);
        foreach (Argument argument in command.Arguments.Where(a => !a.Hidden))
        {
            page.Append(CultureInfo.InvariantCulture, $".TP\n.I {Escape(argument.Name)}\n");
            Paragraph(page, argument.Description);
        }

        foreach (Option option in OptionText.Of(command).Where(o => o is not HelpOption))
        {
            OfOption(page, option);
        }

        foreach (Command below in command.Subcommands.Where(c => !c.Hidden))
        {
            OfCommand(page, $"{program} {command.Name}", below);
        }
    }

    private static void OfOption(StringBuilder page, Option option)
    {
        string names = string.Join("\\fR, \\fB", option.Aliases.Append(option.Name).Where(n => n[0] == '-').Order(StringComparer.Ordinal).Select(Escape));
        string value = OptionText.ValueName(option) is { } name ? $" \\fI{Escape(name)}\\fR" : "";
        page.Append(CultureInfo.InvariantCulture, $".TP\n\\fB{names}\\fR{value}\n");
        Paragraph(page, option.Description);
        if (option.Required)
        {
            page.Append("Must be given.\n");
        }
        else if (OptionText.Default(option) is { } text)
        {
            page.Append(CultureInfo.InvariantCulture, $"Default: {Escape(text)}.\n");
        }
    }

    private static void Described(StringBuilder page, string? description)
    {
        (string text, string? example) = DescribedProgram.Split(description);
        Paragraph(page, text);
        if (example is not null)
        {
            page.Append(CultureInfo.InvariantCulture, $".PP\nExample:\n.PP\n.RS\n.nf\n{Escape(example)}\n.fi\n.RE\n");
        }
    }

    private static void Paragraph(StringBuilder page, string? text)
    {
        foreach (string line in (text ?? "").Split('\n', StringSplitOptions.RemoveEmptyEntries))
        {
            page.Append(Escape(line)).Append('\n');
        }
    }

    private static string Escape(string text)
    {
        string escaped = text.Replace("\\", "\\e", StringComparison.Ordinal).Replace("-", "\\-", StringComparison.Ordinal)
            .Replace("\"", "\\(dq", StringComparison.Ordinal).Replace("\n", " ", StringComparison.Ordinal);
        return escaped.StartsWith('.') || escaped.StartsWith('\'') ? "\\&" + escaped : escaped;
    }
}
