using System.CommandLine;
using System.Globalization;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Exchange;
using Cardassay.Collector.Exchange.Merging;
using Cardassay.Collector.Exchange.Tables;
using Cardassay.Collector.Intake;

namespace Cardassay.Collector.Commands;

/// <summary>`export`: every figure as a table, or everything a collector holds for another one.</summary>
internal static class ExportCommand
{
    internal static Command Create()
    {
        var format = new Option<string>("--format")
        {
            Description = "csv or json: one file of figures; parquet: a folder, one file for each night; raw: one file with every record, for another collector's `import`.",
            HelpName = "FORMAT",
            Required = true,
        };
        format.AcceptOnlyFromAmong("csv", "json", "parquet", "raw");
        var output = new Option<string>("--output") { Description = "File to write; for parquet a folder, which must be new or empty.", HelpName = "PATH", Required = true };
        var name = new Option<string?>("--as") { Description = "With raw: name of this collector where the file is read (default: a number that names nobody).", HelpName = "NAME" };
        var command = new Command(
            "export",
            "Write every figure as a table, or everything this collector holds.\n\nExample: cardassay-collector export --format parquet --output ./figures")
        {
            format, output, name,
        };
        command.SetAction((parsed, cancellationToken) => OperatorSession.ReadAsync(
            parsed,
            session => RunAsync(session, parsed.GetValue(format)!, parsed.GetValue(output)!, parsed.GetValue(name), cancellationToken),
            cancellationToken));
        return command;
    }

    private static async Task<int> RunAsync(OperatorSession session, string format, string output, string? name, CancellationToken cancellationToken)
    {
        if (name is not null && (format != "raw" || name.Length == 0 || BoardRegistry.CleanName(name) != name))
        {
            throw new CommandException(
                format != "raw" ? "--as names this collector in a raw export; leave it out for tables." : $"--as \"{name}\": use letters, digits, - _ and dots.", 2);
        }

        (EntrySpool entries, string collector) = await EntryFeed.FetchAsync(session, cancellationToken);
        using EntrySpool held = entries;
        if (format == "raw")
        {
            await WholeFile.WriteAsync(output, to => Task.Run(() => EntriesZip.Write(to, name ?? collector, held.Entries()), cancellationToken));
            Console.WriteLine(string.Create(
                CultureInfo.InvariantCulture, $"{held.Count} entries as collector {name ?? collector} in {output}. They hold host names and paths of your boards: hand them to people you trust, and publish with `report --publish`."));
            return 0;
        }

        using var store = new SpooledStore(held.Entries());
        MasterData data = MasterDataLoader.Load(store);
        AnalysisResult analysis = Analyser.Run(data, UseProfile.SystemDisk, new AnalysisOptions());
        IReadOnlyList<ExportRow> rows = ExportRow.Of(data, analysis);
        switch (format)
        {
            case "csv":
                await WholeFile.WriteAsync(output, to => Task.Run(() => ExportCsv.Write(to, rows), cancellationToken));
                break;
            case "json":
                string asOf = data.AsOf.UtcDateTime.ToString("yyyy-MM-dd'T'HH:mm:ss'Z'", CultureInfo.InvariantCulture);
                await WholeFile.WriteAsync(output, to => Task.Run(() => ExportJson.Write(to, asOf, rows), cancellationToken));
                break;
            default:
                await WriteFolderAsync(output, rows, cancellationToken);
                break;
        }

        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{rows.Count} figures of {analysis.Cards.Count} cards in {output}."));
        return 0;
    }

    private static async Task WriteFolderAsync(string folder, IReadOnlyList<ExportRow> rows, CancellationToken cancellationToken)
    {
        if (Directory.Exists(folder) && Directory.EnumerateFileSystemEntries(folder).Any())
        {
            // A night that is gone would stay behind and be read with the rest.
            throw new CommandException($"--output {folder} is not empty; name a new folder.", 2);
        }

        try
        {
            foreach ((string path, IReadOnlyList<ExportRow> night) in ExportParquet.Files(rows))
            {
                string full = Path.Combine(folder, path);
                Directory.CreateDirectory(Path.GetDirectoryName(full)!);
                await using FileStream file = File.Create(full);
                await ExportParquet.WriteAsync(file, night, cancellationToken);
            }
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new CommandException($"--output {folder} cannot be written: {e.Message}");
        }
    }
}
