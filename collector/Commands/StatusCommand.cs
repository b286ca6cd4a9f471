using System.CommandLine;
using System.Globalization;

namespace Cardassay.Collector.Commands;

/// <summary>`status`: whether anything is wrong.</summary>
internal static class StatusCommand
{
    internal static Command Create()
    {
        var command = new Command("status", "Show what was received, what is missing and what needs a person.\n\nExample: cardassay-collector status --data ./cards")
        {
            CommandLine.Json,
        };
        command.SetAction((parsed, cancellationToken) => OperatorSession.RunAsync(
            parsed.GetValue(CommandLine.Data)!,
            async session =>
            {
                V1.CollectorStatus status = await session.Client.GetStatusAsync(new V1.GetStatusRequest(), cancellationToken: cancellationToken);
                if (parsed.GetValue(CommandLine.Json))
                {
                    Show.Json(status);
                    return 0;
                }

                Console.WriteLine($"collector   {status.Version}, {(session.IsRunning ? $"running since {Show.Time(status.StartedUnixNs)}" : "not running")}");
                Console.WriteLine($"data        {status.DataFolder}");
                Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
                    $"records     {status.RecordsReceived} received, {status.Gaps} missing, {status.Conflicts} conflicting"));
                if (session.IsRunning)
                {
                    Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
                        $"since start {status.ReceivedSinceStart} received, {status.RecordsDuplicate} repeated, {status.SkippedSinceStart} asked for again, {status.MissingSinceStart} missing, {status.ConflictsSinceStart} conflicting"));
                }

                Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
                    $"intake log  {status.IntakeBytes / 1e6:0.0} MB, entry {status.IntakeLastSequence}, {status.IntakeFullness * 100:0} % of its room taken"));
                Console.WriteLine(status.ApplyLagEntries == 0
                    ? string.Create(CultureInfo.InvariantCulture, $"database    at entry {status.AppliedSequence}, nothing behind")
                    : string.Create(CultureInfo.InvariantCulture, $"database    {status.ApplyLagEntries} entries behind for {status.ApplyLagSeconds:0.0} s when asked, now at entry {status.AppliedSequence}"));
                string present = status.BoardsPresent.Count == 0 ? "" : $": {Show.Clean(string.Join(", ", status.BoardsPresent))}";
                Console.WriteLine($"boards      {status.BoardsKnown} known, {status.BoardsConnected} connected{present}");
                if (session.IsRunning)
                {
                    Console.WriteLine($"backlog     {status.BacklogRecords} records still on the boards, as they last said");
                    Console.WriteLine($"ready       {(status.Ready ? "yes" : "no")}");
                    foreach (string line in status.Health)
                    {
                        Console.WriteLine($"            {Show.Clean(line)}");
                    }
                }

                Console.WriteLine($"backup      {Show.Clean(status.Backup)}");
                foreach (string note in status.Notes)
                {
                    Console.WriteLine($"note        {Show.Clean(note)}");
                }

                Console.WriteLine(status.NeedsPerson.Count == 0 ? "Nothing needs a person." : "Needs a person:");
                foreach (string need in status.NeedsPerson)
                {
                    Console.WriteLine($"  {Show.Clean(need)}");
                }

                return 0;
            },
            cancellationToken));
        return command;
    }
}
