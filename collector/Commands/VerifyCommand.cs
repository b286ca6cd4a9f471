using System.CommandLine;
using System.Globalization;
using Cardassay.Collector.Exchange;
using Cardassay.Collector.Exchange.Publishing;

namespace Cardassay.Collector.Commands;

/// <summary>`verify`: recomputes a published table from the raw records in its zip. Needs no data folder and no collector.</summary>
internal static class VerifyCommand
{
    internal static Command Create()
    {
        var file = new Argument<string>("FILE") { Description = "Zip written by `report --publish ... --evidence FILE`." };
        var table = new Option<string?>("--table") { Description = "Check this table (Markdown or HTML, as published) as well.", HelpName = "FILE" };
        var command = new Command(
            "verify",
            "Recompute every figure of a published table from the raw records in its zip, and name each one that differs.\n\n"
            + "Example: cardassay-collector verify cards.zip --table post.md")
        {
            file, table,
        };
        command.SetAction(parsed => Run(parsed.GetValue(file)!, parsed.GetValue(table)));
        return command;
    }

    private static int Run(string path, string? table)
    {
        Verification checkedNow;
        string madeWith;
        List<string> differences;
        try
        {
            using FileStream stream = File.OpenRead(path);
            Evidence evidence = EvidenceZip.Read(stream, path);
            madeWith = evidence.MadeWith;
            var publisher = new Publisher(ReportDesk.Model);
            checkedNow = publisher.Check(evidence);
            differences = [.. checkedNow.Differences, .. table is null ? [] : publisher.CheckTable(evidence, File.ReadAllText(table), table)];
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or EvidenceException or ArgumentException)
        {
            throw new CommandException($"{path} cannot be checked: {e.Message}");
        }

        if (differences.Count == 0)
        {
            Console.WriteLine(string.Create(
                CultureInfo.InvariantCulture, $"All {checkedNow.Figures} cells follow from the {checkedNow.Records} raw records in {path}."));
            return 0;
        }

        foreach (string difference in differences)
        {
            Console.WriteLine(Show.Clean(difference));
        }

        if (madeWith != CollectorVersion.Text)
        {
            Console.WriteLine($"It was made with version {Show.Clean(madeWith)}; this is {CollectorVersion.Text}, and a later version may word or compute things in another way.");
        }

        return 1;
    }
}
