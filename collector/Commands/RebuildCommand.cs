using System.CommandLine;
using System.Globalization;

namespace Cardassay.Collector.Commands;

/// <summary>`rebuild`: makes the database again from the intake log.</summary>
internal static class RebuildCommand
{
    internal static Command Create()
    {
        var command = new Command("rebuild", "Throw the database away and make it again from the intake log. Nothing is lost: the log is the truth.\n\nExample: cardassay-collector rebuild --data ./cards");
        command.SetAction((parsed, cancellationToken) => OperatorSession.RunAsync(
            parsed.GetValue(CommandLine.Data)!,
            async session =>
            {
                V1.Rebuilt rebuilt = await session.Client.RebuildAsync(new V1.RebuildRequest(), cancellationToken: cancellationToken);
                Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{rebuilt.Entries} log entries read, {rebuilt.Rows} records in the database."));
                return 0;
            },
            cancellationToken));
        return command;
    }
}
