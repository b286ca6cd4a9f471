using System.CommandLine;
using System.Globalization;
using Cardassay.Collector.Exchange;
using Cardassay.Collector.Exchange.Publishing;
using Cardassay.Collector.Files;
using Cardassay.Collector.Hosting;

namespace Cardassay.Collector.Commands;

/// <summary>`verify`: recomputes a published table from the raw records in its zip. Needs no data folder and no collector.</summary>
internal static class VerifyCommand
{
    /// <summary>What an evidence may take to compute, bytes, as estimated; with the program itself some 300 MB.</summary>
    private const long MaxComputingBytes = 180_000_000;

    internal static Command Create()
    {
        var file = new Argument<string>("FILE") { Description = "Zip written by `report --publish ... --evidence FILE`." };
        var table = new Option<string?>("--table") { Description = "Check this table (Markdown or HTML, as published) as well.", HelpName = "FILE" };
        var large = new Option<bool>("--large") { Description = "Check a publication that takes more than 300 MB of memory to compute, too; about 1 GB for 600,000 trials." };
        var command = new Command(
            "verify",
            "Recompute every figure of a published table from the raw records in its zip, and name each one that differs.\n\n"
            + "Example: cardassay-collector verify cards.zip --table post.md")
        {
            file, table, large,
        };
        command.SetAction(parsed => Run(parsed.GetValue(file)!, parsed.GetValue(table), parsed.GetValue(large)));
        return command;
    }

    private static int Run(string path, string? table, bool large)
    {
        Verification checkedNow;
        string madeWith;
        IReadOnlyList<string> differences;
        try
        {
            using FileStream stream = File.OpenRead(path);
            Evidence evidence = EvidenceZip.Read(stream, path, large ? null : MaxComputingBytes);
            madeWith = evidence.MadeWith;
            using FileStream? copied = table is null ? null : File.OpenRead(table);
            checkedNow = new Publisher(ReportDesk.Model).Check(evidence, copied is null ? null : (copied, table!));
            differences = checkedNow.Differences;
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
