using System.CommandLine;
using System.Globalization;
using System.Security.Cryptography;
using System.Text;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Exchange;
using Cardassay.Collector.Exchange.HandKept;
using Cardassay.Collector.Exchange.Merging;
using Cardassay.Trials;
using Google.Protobuf;
using Grpc.Core;

namespace Cardassay.Collector.Commands;

/// <summary>`import`: figures kept by hand, or another collector's export. Shows what would happen until told to record it.</summary>
internal static class ImportCommand
{
    private const long MaxTableBytes = 16 << 20;
    private const int PartBytes = 1 << 20;

    internal static Command Create()
    {
        var file = new Argument<string?>("FILE") { Description = "CSV or plain text table of figures kept by hand, or a file made by `export --format raw`.", Arity = ArgumentArity.ZeroOrOne };
        var map = new Option<string[]>("--map") { Description = "What a column holds, as COLUMN=FIELD or COLUMN=FIELD:UNIT; may be given several times. See --help-fields.", HelpName = "COLUMN=FIELD" };
        var comma = new Option<bool>("--decimal-comma") { Description = "Numbers are written like 12,5." };
        var record = new Option<bool>("--record") { Description = "Keep what was read. Without it nothing is recorded." };
        var origin = new Option<string?>("--as") { Description = "Name for the collector an export comes from; the export states one.", HelpName = "NAME" };
        var list = new Option<bool>("--list") { Description = "List the imports of figures kept by hand." };
        var undo = new Option<string?>("--undo") { Description = "Take an import of figures kept by hand back.", HelpName = "ID" };
        var helpFields = new Option<bool>("--help-fields") { Description = "List what a column can hold, and the units, and stop." };
        var command = new Command(
            "import",
            "Read figures kept by hand from a table, or take over what another collector exported. Nothing is recorded without --record.\n\n"
            + "Example: cardassay-collector import notes.csv --map \"4k read=randomRead:MB/s\" --map \"Remarks=skip\"")
        {
            file, map, comma, record, origin, list, undo, helpFields, CommandLine.Json,
        };
        command.SetAction((parsed, cancellationToken) =>
        {
            if (parsed.GetValue(helpFields))
            {
                Console.WriteLine($"fields: {string.Join(", ", ColumnMap.Fields)}");
                Console.WriteLine($"units: {string.Join(", ", FigureUnit.Names)}; a metric without one is read in its own ({string.Join(", ", Metrics.InOrder.Select(k => $"{Metrics.NameOf(k)} {Metrics.UnitOf(k)}"))}).");
                Console.WriteLine("A random figure given as a throughput is divided by 4096 bytes.");
                return Task.FromResult(0);
            }

            return OperatorSession.RunAsync(
                parsed.GetValue(CommandLine.Data)!,
                session => (parsed.GetValue(file), parsed.GetValue(list), parsed.GetValue(undo)) switch
                {
                    (null, true, null) => ListAsync(session, parsed.GetValue(CommandLine.Json), cancellationToken),
                    (null, false, { } id) => UndoAsync(session, id, cancellationToken),
                    ({ } path, false, null) => FileAsync(
                        session, path, parsed.GetValue(map) ?? [], parsed.GetValue(comma), parsed.GetValue(record), parsed.GetValue(origin), cancellationToken),
                    _ => throw new CommandException("Give one of a file, --list or --undo ID.", 2),
                },
                cancellationToken);
        });
        return command;
    }

    private static async Task<int> FileAsync(
        OperatorSession session, string path, string[] map, bool decimalComma, bool record, string? origin, CancellationToken cancellationToken)
    {
        try
        {
            byte[] head = new byte[4];
            await using FileStream stream = File.OpenRead(path);
            int got = await stream.ReadAtLeastAsync(head, 2, throwOnEndOfStream: false, cancellationToken);
            stream.Position = 0;
            if (EntriesZip.IsZip(head.AsSpan(0, got)))
            {
                (string collector, IReadOnlyList<V1.IntakeEntry> entries) = EntriesZip.Read(stream, path);
                return await MergeAsync(session, origin ?? collector, entries, record, cancellationToken);
            }

            if (stream.Length > MaxTableBytes)
            {
                throw new CommandException($"{path} is larger than 16 MiB; split it.", 2);
            }

            byte[] bytes = new byte[stream.Length];
            await stream.ReadExactlyAsync(bytes, cancellationToken);
            return await TableAsync(session, path, bytes, map, decimalComma, record, cancellationToken);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new CommandException($"{path} cannot be read: {e.Message}", 2);
        }
        catch (EvidenceException e)
        {
            throw new CommandException(e.Message, 2);
        }
    }

    private static async Task<int> TableAsync(
        OperatorSession session, string path, byte[] bytes, string[] map, bool decimalComma, bool record, CancellationToken cancellationToken)
    {
        string name = Path.GetFileName(path);
        TableText table = TableText.Parse(Encoding.UTF8.GetString(bytes), name);
        ColumnMap columns = ColumnMap.Of(table, map, Ask);
        DateOnly today = DateOnly.FromDateTime(TimeProvider.System.GetUtcNow().UtcDateTime.AddDays(1)); // it may be tomorrow where the person is
        HandKeptFigures figures = HandKeptFigures.Read(table, columns, decimalComma, today);
        var request = new V1.HandKeptRequest
        {
            DryRun = !record,
            Import = new V1.HandKept { Source = name, SourceSha256 = ByteString.CopyFrom(SHA256.HashData(bytes)) },
        };
        request.Import.Figures.AddRange(figures.Taken);
        V1.HandKeptRecorded answer = await session.Client.RecordHandKeptAsync(request, cancellationToken: cancellationToken);
        Show.Table(
            string.Create(CultureInfo.InvariantCulture, $"{answer.Taken.Count} figures read from {name}"),
            ["Line", "Card", "Metric", "Figure", "As written", "Day"],
            answer.Taken.Select(f => (IReadOnlyList<string>)
            [
                f.Line.ToString(CultureInfo.InvariantCulture), f.Tag, Metrics.WordsOf((TrialKind)f.Kind),
                $"{Metrics.Format(f.Value)} {Metrics.UnitOf((TrialKind)f.Kind)}", f.AsWritten, f.HasDay ? f.Day : "unknown",
            ]));
        (int Line, string Why)[] refused =
        [
            .. figures.Refused.Select(r => (r.Line, r.Why)).Concat(answer.Refused.Select(r => ((int)r.Line, r.Text))).OrderBy(r => r.Item1),
        ];
        foreach ((int line, string why) in refused)
        {
            Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"refused, line {line}: {Show.Clean(why)}"));
        }

        Console.WriteLine(answer.ImportId.Length > 0
            ? $"Recorded as import {answer.ImportId}; `import --undo {answer.ImportId}` takes it back."
            : answer.Taken.Count == 0 ? "Nothing can be recorded." : "Nothing was recorded; add --record to keep these figures.");
        return refused.Length > 0 || answer.Taken.Count == 0 ? 1 : 0;
    }

    private static async Task<int> MergeAsync(
        OperatorSession session, string origin, IReadOnlyList<V1.IntakeEntry> entries, bool record, CancellationToken cancellationToken)
    {
        using AsyncClientStreamingCall<V1.MergePart, V1.Merged> call = session.Client.MergeEntries(cancellationToken: cancellationToken);
        var part = new V1.MergePart { Origin = origin, DryRun = !record };
        int bytes = 0;
        foreach (V1.IntakeEntry entry in entries)
        {
            int size = entry.CalculateSize();
            if (bytes + size > PartBytes && part.Entries.Count > 0)
            {
                await call.RequestStream.WriteAsync(part, cancellationToken);
                part = new V1.MergePart();
                bytes = 0;
            }

            part.Entries.Add(entry);
            bytes += size;
        }

        await call.RequestStream.WriteAsync(part, cancellationToken);
        await call.RequestStream.CompleteAsync();
        V1.Merged merged = await call;
        Console.WriteLine(string.Create(
            CultureInfo.InvariantCulture,
            $"From {origin}: {merged.RecordsNew} records are new, {merged.RecordsKnown} known already, {merged.Conflicts} in conflict; {merged.EventsNew} notes (claims, imports, gaps) are new, {merged.EventsKnown} known already; {merged.LeftOut} schedules and the like were left out."));
        foreach (string why in merged.Refused)
        {
            Console.WriteLine("refused: " + Show.Clean(why));
        }

        Console.WriteLine(record ? "Recorded." : "Nothing was recorded; add --record to take them over.");
        return merged.Refused.Count > 0 || merged.Conflicts > 0 ? 1 : 0;
    }

    private static async Task<int> ListAsync(OperatorSession session, bool json, CancellationToken cancellationToken)
    {
        V1.ImportList list = await session.Client.ListImportsAsync(new V1.ListImportsRequest(), cancellationToken: cancellationToken);
        if (json)
        {
            Show.Json(list);
            return 0;
        }

        Show.Table(
            string.Create(CultureInfo.InvariantCulture, $"{list.Imports.Count} imports"),
            ["Import", "File", "Figures", "When", "State", "Collector"],
            list.Imports.Select(i => (IReadOnlyList<string>)
            [
                i.ImportId, i.Source, i.Figures.ToString(CultureInfo.InvariantCulture),
                Intake.MasterDataLoader.Time(i.AtUnixNs).ToString("yyyy-MM-dd HH:mm", CultureInfo.InvariantCulture) + " UTC",
                i.Withdrawn ? "taken back" : "counts", i.Origin.Length > 0 ? i.Origin : "this one",
            ]));
        return 0;
    }

    private static async Task<int> UndoAsync(OperatorSession session, string id, CancellationToken cancellationToken)
    {
        V1.Withdrawn withdrawn = await session.Client.WithdrawImportAsync(new V1.ImportWithdrawn { ImportId = id }, cancellationToken: cancellationToken);
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"Import {id} is taken back: its {withdrawn.Figures} figures count no more. They stay in the intake log."));
        return 0;
    }

    private static string? Ask(string column)
    {
        if (Console.IsInputRedirected)
        {
            return null;
        }

        Console.Error.Write($"What does the column \"{Show.Clean(column)}\" hold ({string.Join(", ", ColumnMap.Fields)}; a unit may follow behind a colon)? ");
        return Console.ReadLine();
    }
}
