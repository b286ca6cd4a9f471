using System.CommandLine;
using Cardassay.Agent.Commands;

namespace Cardassay.Agent.Tests.Commands;

/// <summary>One call of `identify`, from the command line to exit code and output.</summary>
internal sealed record IdentifyRun(int ExitCode, string Output, string? Error)
{
    /// <summary>Noon of 1 March 2026: the day all goldens were made on.</summary>
    internal static readonly DateTimeOffset Day = new(2026, 3, 1, 12, 0, 0, TimeSpan.Zero);

    internal static IdentifyRun Of(string root, string target, params string[] options) => On(Day, root, [target, .. options]);

    internal static IdentifyRun On(DateTimeOffset day, string root, params string[] arguments)
    {
        var command = new RootCommand { IdentifyCommand.Create(new FixedTime(day)) };
        command.Options.Add(CommandLine.Sysfs);
        ParseResult parsed = command.Parse(["identify", "--sysfs", root, .. arguments]);
        if (parsed.Errors.Count > 0)
        {
            return new IdentifyRun(2, "", parsed.Errors[0].Message);
        }

        using var output = new StringWriter();
        try
        {
            return new IdentifyRun(parsed.Invoke(new InvocationConfiguration { Output = output, EnableDefaultExceptionHandler = false }), output.ToString(), null);
        }
        catch (CommandException e)
        {
            return new IdentifyRun(e.ExitCode, output.ToString(), e.Message);
        }
    }
}
