using System.CommandLine;
using Cardassay.Collector.Exchange.HandKept;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Report;
using Cardassay.Identity;
using Cardassay.Wire;

namespace Cardassay.Collector.Commands;

/// <summary>`claim`: records what label, shop and user say of cards.</summary>
internal static class ClaimCommand
{
    internal static Command Create()
    {
        var tag = new Argument<string?>("TAG") { Description = "Sticker on the card.", Arity = ArgumentArity.ZeroOrOne };
        var csv = new Option<string?>("--csv") { Description = "Read claims from a table (CSV or plain text), one row per card, under any usual headings; see --help-columns.", HelpName = "FILE" };
        var map = new Option<string[]>("--map") { Description = "With --csv: what a column holds, as COLUMN=FIELD; may be given several times.", HelpName = "COLUMN=FIELD" };
        var comma = new Option<bool>("--decimal-comma") { Description = "With --csv: numbers are written like 12,5, although the table does not show it." };
        var record = new Option<bool>("--record") { Description = "With --csv: keep what was read although headings, numbers or lines had to be guessed at." };
        var dryRun = new Option<bool>("--dry-run") { Description = "Check the claims and record nothing." };
        var same = new Option<string?>("--same-as") { Description = "The card is the one that another collector knows by this sticker.", HelpName = "TAG@COLLECTOR" };
        var apart = new Option<string?>("--not-same-as") { Description = "It is another card than that one, whatever the registers of the two say.", HelpName = "TAG@COLLECTOR" };
        var columns = new Option<bool>("--help-columns") { Description = "Print the CSV columns and stop." };
        var fields = ClaimFields.All.ToDictionary(f => f, f => new Option<string?>("--" + f.Option) { Description = f.Meaning, HelpName = f.Sample });
        var command = new Command(
            "claim",
            "Record or correct what label, shop and user say of a card. A correction is a new entry; what is not given stays as it was.\n\n"
            + "Example: cardassay-collector claim T-07 --maker Halvorn --product \"Harbour 64\" --gigabytes 64 --marks \"C10 U1 A1\" --price 12.90 --currency EUR --condition new")
        {
            tag, csv, map, comma, record, dryRun, same, apart, columns,
        };
        foreach (Option<string?> option in fields.Values)
        {
            command.Options.Add(option);
        }

        command.SetAction((parsed, cancellationToken) =>
        {
            if (parsed.GetValue(columns))
            {
                Console.WriteLine("tag: the sticker on the card (required)");
                foreach (ClaimField field in ClaimFields.All)
                {
                    Console.WriteLine($"{field.Column}: {field.Meaning}");
                }

                return Task.FromResult(0);
            }

            if ((parsed.GetValue(same) ?? parsed.GetValue(apart)) is { } other)
            {
                return OperatorSession.RunAsync(parsed, session => SayAsync(session, parsed.GetValue(tag), other, parsed.GetValue(same) is null, cancellationToken), cancellationToken);
            }

            bool isKept = !parsed.GetValue(dryRun);
            IReadOnlyList<Claim> claims = (parsed.GetValue(csv), parsed.GetValue(tag)) switch
            {
                ({ } file, null) => FromTable(file),
                (null, { } sticker) => [FromOptions(sticker, fields, parsed)],
                (null, null) => throw new CommandException("Name a card's tag, or a file with --csv.", 2),
                _ => throw new CommandException("Give either a tag or --csv, not both.", 2),
            };
            if (!isKept)
            {
                Console.WriteLine($"{Wording.Count(claims.Count, "claim is", "claims are")} fine; nothing was recorded{(parsed.GetValue(dryRun) ? " (--dry-run)." : ": look whether this is what the table says, then add --record.")}");
                return Task.FromResult(0);
            }

            return OperatorSession.RunAsync(
                parsed,
                async session =>
                {
                    var batch = new V1.ClaimBatch();
                    batch.Claims.AddRange(claims.Select(ClaimCodec.ToMessage));
                    V1.ClaimsRecorded recorded = await session.Client.RecordClaimsAsync(batch, cancellationToken: cancellationToken);
                    Console.WriteLine($"{Wording.Count(recorded.Recorded, "claim", "claims")} recorded.");
                    return 0;
                },
                cancellationToken);

            IReadOnlyList<Claim> FromTable(string file)
            {
                ClaimCsv table = ClaimCsv.OfFile(
                    file, parsed.GetValue(map) ?? [], parsed.GetValue(comma), parsed.GetValue(fields.Single(f => f.Key.Column == "currency").Value));
                UnderstoodTable.PrintReading(table.Table, table.Map, table.Read.Numbers);
                UnderstoodTable.PrintClaims(table.Read.Claims, Path.GetFileName(file));
                isKept &= table.IsSure || parsed.GetValue(record);
                return table.Claims;
            }
        });
        return command;
    }

    private static async Task<int> SayAsync(OperatorSession session, string? tag, string other, bool apart, CancellationToken cancellationToken)
    {
        V1.CardsSaid said = await session.Client.SayCardsAsync(
            new V1.SameCard { Tag = tag ?? throw new CommandException("Name a card's tag.", 2), Other = other, Apart = apart }, cancellationToken: cancellationToken);
        Show.Changes(said.Changes, "What the report says otherwise now");
        Console.WriteLine($"Recorded: {tag} and {other} are {(apart ? "two cards" : "one card")}; {(apart ? "--same-as" : "--not-same-as")} takes that back.");
        return 0;
    }

    private static Claim FromOptions(string tag, Dictionary<ClaimField, Option<string?>> options, ParseResult parsed)
    {
        var problems = new List<string>();
        Claim claim = ClaimFields.Make(tag, field => parsed.GetValue(options[field]), field => "--" + field.Option, problems);
        if (ClaimFields.All.All(field => parsed.GetValue(options[field]) is null))
        {
            problems.Add("Say something of the card, for example --gigabytes 64.");
        }

        return problems.Count == 0 ? claim : throw new CommandException(string.Join(Environment.NewLine, problems), 2);
    }
}
