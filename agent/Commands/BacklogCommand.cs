using System.CommandLine;
using System.Globalization;
using System.Text;
using System.Text.Json;
using Cardassay.Agent.Delivery;
using Cardassay.Agent.Sysfs;
using Cardassay.Journal;

namespace Cardassay.Agent.Commands;

/// <summary>`backlog`: what has no receipt yet.</summary>
internal static class BacklogCommand
{
    internal static Command Create()
    {
        var command = new Command("backlog", "Show what the collector has not confirmed yet.\n\nExample: cardassay-agent backlog")
        {
            CommandLine.Json,
        };
        command.SetAction(parsed =>
        {
            var folder = new AgentFolder(Path.GetFullPath(parsed.GetValue(CommandLine.Data)!));
            if (!Directory.Exists(folder.Journal))
            {
                Console.WriteLine(parsed.GetValue(CommandLine.Json)
                    ? """{ "records": 0, "epochs": [] }"""
                    : "There is no journal yet: nothing was measured here.");
                return 0;
            }

            using ObservationJournal journal = ObservationJournal.Open(
                folder.Journal, TimeProvider.System, Boards.Describe(new SysfsTree(parsed.GetValue(CommandLine.Sysfs)!), null).BootId);
            Console.WriteLine(parsed.GetValue(CommandLine.Json) ? Json(journal) : Table(folder, journal));
            return 0;
        });
        return command;
    }

    private static string Table(AgentFolder folder, ObservationJournal journal)
    {
        var text = new StringBuilder();
        text.AppendLine(CultureInfo.InvariantCulture, $"{journal.Backlog} records without a receipt");
        foreach ((LogEpoch epoch, long first, long last) in journal.Log.Epochs())
        {
            long receipted = journal.Log.ReleasedThrough(epoch);
            text.AppendLine(CultureInfo.InvariantCulture,
                $"  epoch {epoch}: records {first} to {last}, receipt up to {receipted}, "
                    + $"{Math.Max(0, last - Math.Max(receipted, first - 1))} open");
        }

        text.Append(CultureInfo.InvariantCulture,
            $"journal {folder.Journal}: {Text.Bytes(journal.Log.UsedBytes)}, {journal.Log.Fullness * 100:0} % of its room");
        return text.ToString();
    }

    private static string Json(ObservationJournal journal)
    {
        using var buffer = new MemoryStream();
        using (var json = new Utf8JsonWriter(buffer, new JsonWriterOptions { Indented = true }))
        {
            json.WriteStartObject();
            json.WriteNumber("records", journal.Backlog);
            json.WriteNumber("usedBytes", journal.Log.UsedBytes);
            json.WriteNumber("fullness", journal.Log.Fullness);
            json.WriteStartArray("epochs");
            foreach ((LogEpoch epoch, long first, long last) in journal.Log.Epochs())
            {
                json.WriteStartObject();
                json.WriteString("epoch", epoch.ToString());
                json.WriteNumber("first", first);
                json.WriteNumber("last", last);
                json.WriteNumber("receiptThrough", journal.Log.ReleasedThrough(epoch));
                json.WriteEndObject();
            }

            json.WriteEndArray();
            json.WriteEndObject();
        }

        return Encoding.UTF8.GetString(buffer.ToArray());
    }
}
