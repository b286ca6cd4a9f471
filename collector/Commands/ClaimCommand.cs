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
    private static readonly Argument<string?> s_tag = new("TAG") { Description = "Sticker on the card.", Arity = ArgumentArity.ZeroOrOne };

    private static readonly Option<string?> s_csv = new("--csv")
    {
        Description = "Read claims from a table (CSV or plain text), one row per card, under any usual headings; see --help-columns.",
        HelpName = "FILE",
    };

    private static readonly Option<string[]> s_map = new("--map")
    {
        Description = "With --csv: what a column holds, as COLUMN=FIELD; may be given several times.",
        HelpName = "COLUMN=FIELD",
    };

    private static readonly Option<bool> s_comma = new("--decimal-comma")
    {
        Description = "With --csv: numbers are written like 12,5, although the table does not show it.",
    };

    private static readonly Option<bool> s_record = new("--record")
    {
        Description = "With --csv: keep what was read although headings, numbers or lines had to be guessed at.",
    };

    private static readonly Option<bool> s_dryRun = new("--dry-run") { Description = "Check the claims and record nothing." };

    private static readonly Option<string?> s_same = new("--same-as")
    {
        Description = "The card is the one that another collector knows by this sticker.",
        HelpName = "TAG@COLLECTOR",
    };

    private static readonly Option<string?> s_apart = new("--not-same-as")
    {
        Description = "It is another card than that one, whatever the registers of the two say.",
        HelpName = "TAG@COLLECTOR",
    };

    private static readonly Option<bool> s_columns = new("--help-columns") { Description = "Print the CSV columns and stop." };

    internal static Command Create()
    {
        var fields = ClaimFields.All.ToDictionary(f => f,
            f => new Option<string?>("--" + f.Option) { Description = f.Meaning, HelpName = f.Sample });
        var command = new Command(
            "claim",
            "Record or correct what label, shop and user say of a card. A correction is a new entry; what is not given stays as it was.\n\n"
            + "Example: cardassay-collector claim T-07 --maker Halvorn --product \"Harbour 64\" --gigabytes 64 --marks \"C10 U1 A1\" "
            + "--price 12.90 --currency EUR --condition new")
        {
            s_tag, s_csv, s_map, s_comma, s_record, s_dryRun, s_same, s_apart, s_columns,
        };
        foreach (Option<string?> option in fields.Values)
        {
            command.Options.Add(option);
        }

        command.SetAction((parsed, cancellationToken) => RunAsync(parsed, fields, cancellationToken));
        return command;
    }

    private static Task<int> RunAsync(
        ParseResult parsed, Dictionary<ClaimField, Option<string?>> fields, CancellationToken cancellationToken)
    {
        if (parsed.GetValue(s_columns))
        {
            Console.WriteLine("tag: the sticker on the card (required)");
            foreach (ClaimField field in ClaimFields.All)
            {
                Console.WriteLine($"{field.Column}: {field.Meaning}");
            }

            return Task.FromResult(0);
        }

        if ((parsed.GetValue(s_same) ?? parsed.GetValue(s_apart)) is { } other)
        {
            return OperatorSession.RunAsync(parsed,
                session => SayAsync(session, parsed.GetValue(s_tag), other, parsed.GetValue(s_same) is null, cancellationToken),
                cancellationToken);
        }

        bool isKept = !parsed.GetValue(s_dryRun);
        IReadOnlyList<Claim> claims = (parsed.GetValue(s_csv), parsed.GetValue(s_tag)) switch
        {
            ({ } file, null) => FromTable(file),
            (null, { } sticker) => [FromOptions(sticker, fields, parsed)],
            (null, null) => throw new CommandException("Name a card's tag, or a file with --csv.", 2),
            _ => throw new CommandException("Give either a tag or --csv, not both.", 2),
        };
        if (!isKept)
        {
            string why = parsed.GetValue(s_dryRun) ? " (--dry-run)." : ": look whether this is what the table says, then add --record.";
            Console.WriteLine($"{Wording.Count(claims.Count, "claim is", "claims are")} fine; nothing was recorded{why}");
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
                file, parsed.GetValue(s_map) ?? [], parsed.GetValue(s_comma),
                parsed.GetValue(fields.Single(f => f.Key.Column == "currency").Value));
            UnderstoodTable.PrintReading(table.Table, table.Map, table.Read.Numbers);
            UnderstoodTable.PrintClaims(table.Read.Claims, Path.GetFileName(file));
            isKept &= table.IsSure || parsed.GetValue(s_record);
            return table.Claims;
        }
    }

    private static async Task<int> SayAsync(
        OperatorSession session, string? tag, string other, bool apart, CancellationToken cancellationToken)
    {
        V1.CardsSaid said = await session.Client.SayCardsAsync(
            new V1.SameCard { Tag = tag ?? throw new CommandException("Name a card's tag.", 2), Other = other, Apart = apart },
            cancellationToken: cancellationToken);
        Show.Changes(said.Changes, "What the report says otherwise now");
        Console.WriteLine($"Recorded: {tag} and {other} are {(apart ? "two cards" : "one card")}; "
            + $"{(apart ? "--same-as" : "--not-same-as")} takes that back.");
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
