using System.CommandLine;
using System.Globalization;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Exchange;
using Cardassay.Collector.Exchange.Merging;
using Cardassay.Collector.Exchange.Tables;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Commands;

/// <summary>`export`: every figure as a table, or everything a collector holds for another one.</summary>
internal static class ExportCommand
{
    internal static Command Create()
    {
        var format = new Option<string>("--format")
        {
            Description = "csv: one table; json: one file with all tables; parquet: a folder with all tables, the figures in one file for "
                + "each night; raw: one file with every record, for another collector's `import`.",
            HelpName = "FORMAT",
            Required = true,
        };
        format.AcceptOnlyFromAmong("csv", "json", "parquet", "raw");
        var output = new Option<string>("--output")
        {
            Description = "File to write; for parquet a folder, which must be new or empty.",
            HelpName = "PATH",
            Required = true,
        };
        var name = new Option<string?>("--as")
        {
            Description = "With raw: name of this collector where the file is read (default: a number that names nobody).",
            HelpName = "NAME",
        };
        var table = new Option<string?>("--table")
        {
            Description = "With csv: figures (a row for each trial), cards or runs [default: figures].",
            HelpName = "TABLE",
        };
        table.AcceptOnlyFromAmong("figures", "cards", "runs");
        var comma = new Option<bool>("--decimal-comma")
        {
            Description = "With csv: numbers like 12,5 and semicolons between cells, for spreadsheets that read them so.",
        };
        var schema = new Option<bool>("--schema")
        {
            Description = "With json: write the JSON Schema instead, which names the type, unit and meaning of every column.",
        };
        var command = new Command(
            "export",
            "Write every figure, card and run as tables, or everything this collector holds.\n\nExample: "
                + "cardassay-collector export --format parquet --output ./figures")
        {
            format, output, name, table, comma, schema,
        };
        command.SetAction(async (parsed, cancellationToken) =>
        {
            string kind = parsed.GetValue(format)!;
            var what = new What(parsed.GetValue(name), parsed.GetValue(table), parsed.GetValue(comma));
            if (kind != "csv" && (what.Table is not null || what.DecimalComma))
            {
                throw new CommandException("--table and --decimal-comma are for --format csv; the others hold all tables, "
                    + "and numbers as numbers.", 2);
            }

            if (parsed.GetValue(schema))
            {
                byte[] text = System.Text.Encoding.UTF8
                    .GetBytes(ExportSchema.Of(ExportTable.All(new MasterData { AsOf = DateTimeOffset.UnixEpoch })));
                await WholeFile.WriteAsync(
                    kind == "json" ? parsed.GetValue(output)! : throw new CommandException("--schema is for --format json.", 2),
                    to => to.WriteAsync(text, cancellationToken).AsTask());
                return 0;
            }

            return await OperatorSession.ReadAsync(parsed,
                session => RunAsync(session, kind, parsed.GetValue(output)!, what, cancellationToken), cancellationToken);
        });
        return command;
    }

    private static async Task<int> RunAsync(
        OperatorSession session, string format, string output, What what, CancellationToken cancellationToken)
    {
        string? name = what.Collector;
        if (name is not null && (format != "raw" || name.Length == 0 || BoardNames.Clean(name) != name))
        {
            throw new CommandException(
                format != "raw"
                    ? "--as names this collector in a raw export; leave it out for tables."
                    : $"--as \"{name}\": use letters, digits, - _ and dots.", 2);
        }

        (EntrySpool entries, string collector) = await EntryFeed.FetchAsync(session, cancellationToken);
        using EntrySpool held = entries;
        if (format == "raw")
        {
            await WholeFile.WriteAsync(output,
                to => Task.Run(() => EntriesZip.Write(to, name ?? collector, held.Entries()), cancellationToken));
            Console.WriteLine(string.Create(
                CultureInfo.InvariantCulture,
                $"{held.Count} entries as collector {name ?? collector} in {output}. They hold host names and paths of your boards: "
                    + $"hand them to people you trust, and publish with `report --publish`."));
            return 0;
        }

        using var store = new SpooledStore(held.Entries());
        MasterData data = MasterDataLoader.Load(store);
        IReadOnlyList<ExportTable> tables = ExportTable.All(data);
        switch (format)
        {
            case "csv":
                ExportTable table = tables.Single(t => t.Name == (what.Table ?? "figures"));
                await WholeFile.WriteAsync(output, to => Task.Run(() => ExportCsv.Write(to, table, what.DecimalComma), cancellationToken));
                Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{table.Count} {table.Name} in {output}."));
                return 0;
            case "json":
                await WholeFile.WriteAsync(output, to => Task.Run(() => ExportJson.Write(to, data.AsOf, tables), cancellationToken));
                break;
            default:
                await WriteFolderAsync(output, tables, cancellationToken);
                break;
        }

        Console.WriteLine(
            string.Create(CultureInfo.InvariantCulture, $"{string.Join(", ", tables.Select(t => $"{t.Count} {t.Name}"))} in {output}."));
        return 0;
    }

    private static async Task WriteFolderAsync(string folder, IReadOnlyList<ExportTable> tables, CancellationToken cancellationToken)
    {
        if (Directory.Exists(folder) && Directory.EnumerateFileSystemEntries(folder).Any())
        {
            // A night that is gone would stay behind and be read with the rest.
            throw new CommandException($"--output {folder} is not empty; name a new folder.", 2);
        }

        try
        {
            foreach ((string path, ExportTable table, IReadOnlyList<object?[]> rows) in ExportParquet.Files(tables))
            {
                string full = Path.Combine(folder, path);
                Directory.CreateDirectory(Path.GetDirectoryName(full)!);
                await using FileStream file = File.Create(full);
                await ExportParquet.WriteAsync(file, table, rows, cancellationToken);
            }
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new CommandException($"--output {folder} cannot be written: {e.Message}");
        }
    }

    /// <summary>What is written of the data set, and how.</summary>
    /// <param name="Collector">Name of this collector in a raw export.</param>
    /// <param name="Table">Table of a CSV; null for figures.</param>
    /// <param name="DecimalComma">True for numbers written like 12,5.</param>
    private sealed record What(string? Collector, string? Table, bool DecimalComma);
}
