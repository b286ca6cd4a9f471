using System.CommandLine;
using System.Globalization;
using System.Security.Cryptography;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Exchange;
using Cardassay.Collector.Exchange.HandKept;
using Cardassay.Collector.Exchange.Merging;
using Cardassay.Collector.Files;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Report;
using Cardassay.Trials;
using Cardassay.Wire;
using Google.Protobuf;
using Grpc.Core;

namespace Cardassay.Collector.Commands;

/// <summary>`import`: figures kept by hand, or another collector's export. Shows what would happen until told to record it.</summary>
internal static class ImportCommand
{
    internal static Command Create()
    {
        var file = new Argument<string?>("FILE") { Description = "CSV or plain text table of figures and claims kept by hand, or a file made by `export --format raw`.", Arity = ArgumentArity.ZeroOrOne };
        var map = new Option<string[]>("--map") { Description = "What a column holds, as COLUMN=FIELD or COLUMN=FIELD:UNIT; may be given several times. See --help-fields.", HelpName = "COLUMN=FIELD" };
        var comma = new Option<bool>("--decimal-comma") { Description = "Numbers are written like 12,5, although the table does not show it." };
        var currency = new Option<string?>("--currency") { Description = "ISO 4217 code of prices that have none beside them.", HelpName = "CODE" };
        var record = new Option<bool>("--record") { Description = "Keep what was read. Without it nothing is recorded." };
        var beside = new Option<bool>("--beside") { Description = "Keep what was imported from a file of the same name too; without it a corrected file takes the place of the older one." };
        var origin = new Option<string?>("--as") { Description = "Name for the collector an export comes from; the export states one.", HelpName = "NAME" };
        var sameStickers = new Option<bool>("--same-stickers") { Description = "The stickers of that collector are of one series with yours: T-10 there is T-10 here. Without it a T-10 of collector west is T-10@west." };
        var list = new Option<bool>("--list") { Description = "List the imports of figures kept by hand, and the collectors whose exports were taken over." };
        var undo = new Option<string?>("--undo") { Description = "Take back an import of figures kept by hand, or everything that came from a collector.", HelpName = "ID|COLLECTOR" };
        var helpFields = new Option<bool>("--help-fields") { Description = "List what a column can hold, and the units, and stop." };
        var command = new Command(
            "import",
            "Read figures and claims kept by hand from a table under any usual headings, or take over what another collector exported. Nothing is recorded without --record.\n\n"
            + "Example: cardassay-collector import notes.csv --map \"4k read=randomRead:MB/s\" --map \"Remarks=skip\"")
        {
            file, map, comma, currency, record, beside, origin, sameStickers, list, undo, helpFields, CommandLine.Json,
        };
        command.SetAction((parsed, cancellationToken) =>
        {
            if (parsed.GetValue(helpFields))
            {
                Console.WriteLine($"fields: {string.Join(", ", ColumnMap.Fields)}");
                Console.WriteLine($"units: {string.Join(", ", FigureUnit.Names)}; a metric without one is read in its own ({string.Join(", ", TrialKinds.All.Select(k => $"{TrialKinds.NameOf(k)} {TrialFigure.UnitOf(k)}"))}).");
                Console.WriteLine("A random figure given as a throughput is divided by 4096 bytes.");
                return Task.FromResult(0);
            }

            return OperatorSession.RunAsync(
                parsed,
                session => (parsed.GetValue(file), parsed.GetValue(list), parsed.GetValue(undo)) switch
                {
                    (null, true, null) => ListAsync(session, parsed.GetValue(CommandLine.Json), cancellationToken),
                    (null, false, { } id) => UndoAsync(session, id, cancellationToken),
                    ({ } path, false, null) => FileAsync(
                        session,
                        path,
                        new TableOptions(parsed.GetValue(map) ?? [], parsed.GetValue(comma), parsed.GetValue(currency), parsed.GetValue(beside)),
                        parsed.GetValue(record),
                        new ExportOptions(parsed.GetValue(origin), parsed.GetValue(sameStickers)),
                        cancellationToken),
                    _ => throw new CommandException("Give one of a file, --list or --undo ID.", 2),
                },
                cancellationToken,
                use: parsed.GetValue(record) || parsed.GetValue(undo) is not null ? DataUse.Writing : DataUse.Reading);
        });
        return command;
    }

    private static async Task<int> FileAsync(
        OperatorSession session, string path, TableOptions options, bool record, ExportOptions export, CancellationToken cancellationToken)
    {
        try
        {
            byte[] head = new byte[4];
            await using FileStream stream = File.OpenRead(path);
            int got = await stream.ReadAtLeastAsync(head, 2, throwOnEndOfStream: false, cancellationToken);
            stream.Position = 0;
            if (EntriesZip.IsZip(head.AsSpan(0, got)))
            {
                (string collector, IEnumerable<V1.IntakeEntry> entries) = EntriesZip.Open(stream, path);
                return await MergeAsync(session, export with { Collector = export.Collector ?? collector }, entries, record, cancellationToken);
            }

            byte[] bytes = ForeignFile.Read(stream, path, ForeignFile.MaxTableBytes);
            return await TableAsync(session, path, bytes, options, record, cancellationToken);
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
        OperatorSession session, string path, byte[] bytes, TableOptions options, bool record, CancellationToken cancellationToken)
    {
        string name = Path.GetFileName(path);
        TableText table = TableText.Parse(ForeignFile.Text(bytes, name), name);
        ColumnMap columns = ColumnMap.Of(table, TableWants.Everything, options.Map, Ask);
        DateOnly today = DateOnly.FromDateTime(TimeProvider.System.GetUtcNow().UtcDateTime.AddDays(1)); // it may be tomorrow where the person is
        HandKeptFigures figures = HandKeptFigures.Read(table, columns, options.DecimalComma, today, options.Currency);
        var request = new V1.HandKeptRequest
        {
            DryRun = !record,
            Beside = options.Beside,
            Import = new V1.HandKept { Source = name, SourceSha256 = ByteString.CopyFrom(SHA256.HashData(bytes)) },
        };
        request.Import.Figures.AddRange(figures.Taken);
        V1.HandKeptRecorded answer = await session.Client.RecordHandKeptAsync(request, cancellationToken: cancellationToken);
        bool claimsKept = record && figures.Claims.Count > 0;
        if (claimsKept)
        {
            var batch = new V1.ClaimBatch();
            batch.Claims.AddRange(figures.Claims.Select(c => ClaimCodec.ToMessage(c.Claim)));
            await session.Client.RecordClaimsAsync(batch, cancellationToken: cancellationToken);
        }

        UnderstoodTable.PrintReading(table, columns, figures.Numbers);
        UnderstoodTable.PrintClaims(figures.Claims, name);
        PrintFigures(answer, name);
        (int Line, string Why)[] refused =
        [
            .. figures.Refused.Select(r => (r.Line, r.Why)).Concat(answer.Refused.Select(r => ((int)r.Line, r.Text))).OrderBy(r => r.Item1),
        ];
        foreach ((int line, string why) in refused)
        {
            Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"refused, line {line}: {Show.Clean(why)}"));
        }

        PrintOutcome(answer, record, figures.Claims.Count);
        return refused.Length > 0 || (answer.Taken.Count == 0 && figures.Claims.Count == 0) ? 1 : 0;
    }

    private static void PrintFigures(V1.HandKeptRecorded answer, string name)
    {
        static IReadOnlyList<string> Row(V1.HandKeptFigure f) =>
        [
            f.Line.ToString(CultureInfo.InvariantCulture), f.Tag, TrialKinds.WordsOf((TrialKind)f.Kind),
            $"{TrialFigure.Text(f.Value)} {TrialFigure.UnitOf((TrialKind)f.Kind)}", f.AsWritten, f.HasDay ? f.Day : "unknown",
        ];
        string[] headings = ["Line", "Card", "Metric", "Figure", "As written", "Day"];
        Show.Table(string.Create(CultureInfo.InvariantCulture, $"{answer.Taken.Count} figures read from {name}"), headings, answer.Taken.Select(Row));
        if (answer.Replaces.Count == 0)
        {
            return;
        }

        Console.WriteLine(string.Create(
            CultureInfo.InvariantCulture,
            $"A file of this name was imported before ({string.Join(", ", answer.Replaces)}): {answer.Known} of these figures are known from it, {answer.Taken.Count - answer.Known} are new, and {answer.Gone.Count} of it are in the file no more."));
        if (answer.Gone.Count > 0)
        {
            Show.Table("No more in the file, so that they will count no more (--beside keeps them)", headings, answer.Gone.Select(Row));
        }
    }

    private static void PrintOutcome(V1.HandKeptRecorded answer, bool record, int claims)
    {
        bool isNew = answer.Taken.Count > answer.Known || answer.Gone.Count > 0;
        Console.WriteLine(answer switch
        {
            { ImportId.Length: > 0 } => $"Recorded as import {answer.ImportId}{(answer.Replaces.Count > 0 ? " in place of the older one" : "")}; `import --undo {answer.ImportId}` takes it back.",
            { Taken.Count: > 0 } when !isNew => "Every figure is known already; none was recorded.",
            { Taken.Count: 0 } => "There are no figures that can be recorded.",
            _ => "Nothing was recorded; add --record to keep these figures.",
        });
        if (claims > 0)
        {
            Console.WriteLine(record
                ? $"{claims} claims recorded; correct one with `claim`, for --undo takes figures back only."
                : "No claim was recorded; add --record to keep them.");
        }
    }

    private static async Task<int> MergeAsync(
        OperatorSession session, ExportOptions export, IEnumerable<V1.IntakeEntry> entries, bool record, CancellationToken cancellationToken)
    {
        using AsyncClientStreamingCall<V1.MergePart, V1.Merged> call = session.Client.MergeEntries(cancellationToken: cancellationToken);
        var head = new V1.MergePart { Origin = export.Collector, DryRun = !record, SameStickers = export.SameStickers };
        V1.Merged merged = await MessageParts.SendAsync(
            call, MessageParts.Of(entries).Select(part => new V1.MergePart { Entries = { part } }).Prepend(head), cancellationToken);
        Console.WriteLine(string.Create(
            CultureInfo.InvariantCulture,
            $"From {export.Collector}: {merged.RecordsNew} records are new, {merged.RecordsKnown} known already, {merged.Conflicts} in conflict; {merged.EventsNew} notes (claims, imports, gaps) are new, {merged.EventsKnown} known already; {merged.LeftOut} schedules and the like were left out."));
        foreach (string why in merged.Refused)
        {
            Console.WriteLine("refused: " + Show.Clean(why));
        }

        Show.Changes(merged.Changes, record ? "What the report says otherwise now" : "What the report would say otherwise");
        Console.WriteLine(record
            ? $"Recorded; `import --undo {export.Collector}` takes everything back that came from {export.Collector}."
            : "Nothing was recorded; add --record to take them over.");
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
                i.Withdrawn ? "taken back" : i.ReplacedBy.Length > 0 ? $"replaced by {i.ReplacedBy}" : "counts", i.Origin.Length > 0 ? i.Origin : "this one",
            ]));
        if (list.Collectors.Count > 0)
        {
            Show.Table(
                Wording.Count(list.Collectors.Count, "other collector", "other collectors"),
                ["Collector", "Records", "Notes", "State", "Stickers"],
                list.Collectors.Select(c => (IReadOnlyList<string>)
                [
                    c.Collector, c.Records.ToString(CultureInfo.InvariantCulture), c.Notes.ToString(CultureInfo.InvariantCulture),
                    c.TakenBack ? "taken back" : "counts", c.SameStickers ? "the same as here" : $"TAG@{c.Collector}",
                ]));
        }

        return 0;
    }

    private static async Task<int> UndoAsync(OperatorSession session, string id, CancellationToken cancellationToken)
    {
        V1.ImportList list = await session.Client.ListImportsAsync(new V1.ListImportsRequest(), cancellationToken: cancellationToken);
        if (list.Collectors.FirstOrDefault(c => c.Collector == id) is { } collector && list.Imports.All(i => i.ImportId != id))
        {
            V1.CollectorHeld held = await session.Client.RegardCollectorAsync(
                new V1.CollectorRegarded { Collector = id, TakenBack = true, SameStickers = collector.SameStickers }, cancellationToken: cancellationToken);
            Show.Changes(held.Changes, "What the report says otherwise now");
            Console.WriteLine(string.Create(
                CultureInfo.InvariantCulture,
                $"What came from {id} is taken back: its {held.Records} records and {held.Notes} notes count no more. They stay in the intake log; importing its export again brings them back."));
            return 0;
        }

        V1.Withdrawn withdrawn = await session.Client.WithdrawImportAsync(new V1.ImportWithdrawn { ImportId = id }, cancellationToken: cancellationToken);
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"Import {id} is taken back: its {withdrawn.Figures} figures count no more. They stay in the intake log."));
        return 0;
    }

    /// <summary>How a person says a table is to be read.</summary>
    private sealed record TableOptions(string[] Map, bool DecimalComma, string? Currency, bool Beside);

    /// <summary>How an export is to be taken over.</summary>
    /// <param name="Collector">Name of the collector it comes from; null for the one it states.</param>
    /// <param name="SameStickers">True when its stickers are of one series with those here.</param>
    private sealed record ExportOptions(string? Collector, bool SameStickers);

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
