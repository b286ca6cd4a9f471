using System.CommandLine;
using System.Globalization;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Report;

namespace Cardassay.Collector.Commands;

/// <summary>`status`: whether anything is wrong.</summary>
internal static class StatusCommand
{
    private static readonly Option<string?> s_acknowledge = new("--acknowledge")
    {
        Description = "Say that a loss or doubt of the delivery was seen and needs nobody any more; its key stands beside it.",
        HelpName = "KEY",
    };

    private static readonly Option<string?> s_reason = new("--reason")
    {
        Description = "Why, with --acknowledge; kept in the log and shown in every report.",
        HelpName = "TEXT",
    };

    internal static Command Create()
    {
        var command = new Command("status",
            "Show what was received, what is missing and what needs a person.\n\nExample: cardassay-collector status --data ./cards")
        {
            s_acknowledge, s_reason, CommandLine.Json,
        };
        command.SetAction((parsed, cancellationToken) => OperatorSession.RunAsync(
            parsed,
            async session =>
            {
                if (parsed.GetValue(s_acknowledge) is not null || parsed.GetValue(s_reason) is not null)
                {
                    V1.FindingAcknowledged said = await session.Client.AcknowledgeAsync(
                        new V1.AcknowledgeRequest { Key = parsed.GetValue(s_acknowledge) ?? "", Reason = parsed.GetValue(s_reason) ?? "" },
                        cancellationToken: cancellationToken);
                    Show.Paragraph($"Acknowledged: {said.Text}");
                    return 0;
                }

                V1.CollectorStatus status = await session.Client.GetStatusAsync(new V1.GetStatusRequest(),
                    cancellationToken: cancellationToken);
                if (parsed.GetValue(CommandLine.Json))
                {
                    Show.Json(status);
                    return 0;
                }

                ShowIntake(status, session.IsRunning);
                ShowStore(status, session.IsRunning);
                Console.WriteLine($"backup      {Show.Clean(status.Backup)}");
                foreach (string note in status.Notes)
                {
                    Console.WriteLine($"note        {Show.Clean(note)}");
                }

                if (session.IsRunning)
                {
                    ShowBoards(status);
                }

                Console.WriteLine(status.NeedsPerson.Count == 0 ? "Nothing needs a person." : "Needs a person:");
                foreach (string need in status.NeedsPerson)
                {
                    Show.Paragraph($"  {need}");
                }

                return 0;
            },
            cancellationToken,
            use: parsed.GetValue(s_acknowledge) is null && parsed.GetValue(s_reason) is null ? DataUse.Reading : DataUse.Writing));
        return command;
    }

    private static void ShowIntake(V1.CollectorStatus status, bool isRunning)
    {
        Console.WriteLine($"collector   {status.Version}, "
            + $"{(isRunning ? $"running since {Show.Time(status.StartedUnixNs)}" : "not running")}");
        Console.WriteLine($"data        {status.DataFolder}");
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
            $"records     {status.RecordsReceived} received, {status.Gaps} missing, {status.Conflicts} conflicting"));
        if (status.EntriesLost + status.EntriesOnlyStored > 0)
        {
            Console.WriteLine($"log losses  {Wording.Count((long)status.EntriesLost, "entry", "entries")} of the intake log lost, "
                + $"{Wording.Number((long)status.EntriesOnlyStored)} only in the database");
        }

        if (isRunning)
        {
            Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
                $"since start {status.ReceivedSinceStart} received, {status.RecordsDuplicate} repeated, "
                    + $"{status.SkippedSinceStart} asked for again, {status.MissingSinceStart} missing, "
                    + $"{status.ConflictsSinceStart} conflicting"));
        }

        Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
            $"intake log  {status.IntakeBytes / 1e6:0.0} MB, entry {status.IntakeLastSequence}, {status.IntakeFullness * 100:0} % "
                + $"of its room taken"));
    }

    private static void ShowStore(V1.CollectorStatus status, bool isRunning)
    {
        Console.WriteLine(status.StoreProblem.Length > 0 ? $"database    {status.StoreState}: {Show.Clean(status.StoreProblem)}"
            : status.ApplyLagEntries == 0
                ? string.Create(CultureInfo.InvariantCulture, $"database    at entry {status.AppliedSequence}, nothing behind")
            : string.Create(CultureInfo.InvariantCulture, $"database    {status.ApplyLagEntries} entries behind for "
                + $"{status.ApplyLagSeconds:0.0} s when asked, now at entry {status.AppliedSequence}"));
        string present = status.BoardsPresent.Count == 0 ? "" : $": {Show.Clean(string.Join(", ", status.BoardsPresent))}";
        Console.WriteLine($"boards      {status.BoardsKnown} known, {status.BoardsConnected} connected{present}");
        if (isRunning)
        {
            Console.WriteLine($"backlog     {status.BacklogRecords} records still on the boards, as they last said");
            Console.WriteLine($"ready       {(status.Ready ? "yes" : "no")}");
            foreach (string line in status.Health)
            {
                Console.WriteLine($"            {Show.Clean(line)}");
            }
        }
    }

    private static void ShowBoards(V1.CollectorStatus status)
    {
        if (status.Boards.Count == 0)
        {
            return;
        }

        Console.WriteLine();
        Show.Table(
            "What the boards do now",
            ["board", "stream", "doing", "done", "left at most", "cards"],
            status.Boards.Select(b => (IReadOnlyList<string>)
            [
                b.Name,
                b.Connected ? "connected" : "away",
                Doing(b, status.Schedule),
                string.Join(", ", b.Running().Select(p => string.Create(CultureInfo.InvariantCulture, $"{p.Fraction * 100:0} %"))),
                string.Join(", ", b.Running().Select(p => Show.Duration(p.SecondsLeft))),
                string.Join(", ", b.Cards.Select(c => $"{CardLadder.CardWord(c.Tag)} in {c.DiskName}")),
            ]),
            "stream",
            "done",
            "left at most");
        NightTable.PrintSteps(status.Schedule);
    }

    private static string Doing(V1.Board board, V1.ScheduleList schedule)
    {
        (V1.ScheduleState State, V1.NightLine Line)[] own =
        [
            .. schedule.Entries.Zip(schedule.Night).Where(e => e.First.Entry.Board == board.Name),
        ];
        if (board.Progress is { } progress)
        {
            (V1.ScheduleState State, V1.NightLine Line)[] running = [.. own.Where(e => e.State.State == "running")];
            return board.Beside.Count > 0
                ? string.Join("; ",
                    running.Select(r => $"{r.State.Entry.PlanName} on {NightTable.ShortCard(r.State, r.Line)}")
                        .DefaultIfEmpty("two runs at once"))
                : running.Length == 0 ? progress.Step
                : $"{running[0].State.Entry.PlanName} on {NightTable.ShortCard(running[0].State, running[0].Line)}: {progress.Step}";
        }

        string[] waits = [.. own.Where(e => e.State.State == "waiting").Select(e => e.Line.WaitsFor).Distinct()];
        return waits switch
        {
            [] => "nothing to do",
            [""] => "about to begin, or waiting for its time",
            _ => string.Join(' ', waits.Where(w => w.Length > 0)),
        };
    }
}
