using Cardassay.Collector.Analysis.Figures;
using Cardassay.Collector.Files;
using Cardassay.Trials;

namespace Cardassay.Collector.Exchange.HandKept;

/// <summary>What a table is read for.</summary>
internal enum TableWants
{
    /// <summary>Figures, and what it says of the cards beside them.</summary>
    Everything,

    /// <summary>Claims alone; figures in it are passed over.</summary>
    Claims,
}

/// <summary>Which column of a table holds what: as told, else by its name.</summary>
internal sealed class ColumnMap
{
    private ColumnMap(IReadOnlyList<ColumnUse> uses) => Uses = uses;

    /// <summary>One use for each column of the table.</summary>
    internal IReadOnlyList<ColumnUse> Uses { get; }

    /// <summary>Every field a column can be mapped to.</summary>
    internal static IReadOnlyList<string> Fields { get; } =
    [
        "tag", "day", .. TrialKinds.All.Select(TrialKinds.NameOf), "metric", "value", "unit", .. ClaimFields.All.Select(f => f.Column), "skip",
    ];

    /// <summary>Maps every column.</summary>
    /// <param name="table">The table.</param>
    /// <param name="wants">What the table is read for.</param>
    /// <param name="told">"COLUMN=FIELD" or "COLUMN=FIELD:UNIT" as given.</param>
    /// <param name="ask">Asks a person for a column nobody mapped and whose name says nothing; returns null when nobody is there.</param>
    /// <exception cref="EvidenceException">A mapping is wrong, a column is unmapped, or what a figure needs is missing.</exception>
    internal static ColumnMap Of(TableText table, TableWants wants, IEnumerable<string> told, Func<string, string?> ask)
    {
        var uses = new Dictionary<string, ColumnUse>(StringComparer.OrdinalIgnoreCase);
        foreach (string mapping in told)
        {
            int at = mapping.LastIndexOf('=');
            string column = at > 0 ? mapping[..at].Trim() : "";
            if (at <= 0 || !table.Columns.Contains(column, StringComparer.OrdinalIgnoreCase))
            {
                throw new EvidenceException($"--map \"{mapping}\": write COLUMN=FIELD with one of the columns {string.Join(", ", table.Columns.Select(c => $"\"{c}\""))}.");
            }

            uses[column] = Parse(mapping[(at + 1)..]) ?? throw new EvidenceException($"--map \"{mapping}\": {HowTo}");
        }

        var unmapped = new List<string>();
        foreach (string column in table.Columns.Where(c => !uses.ContainsKey(c)))
        {
            if (Headings.Find(column) is { } use)
            {
                uses[column] = wants == TableWants.Claims && use.Field is not (ColumnField.Tag or ColumnField.Claim) ? new ColumnUse(ColumnField.Skip) : use;
            }
            else if (ask(column) is { } answer)
            {
                uses[column] = Parse(answer) ?? throw new EvidenceException($"\"{answer}\" for the column \"{column}\": {HowTo}");
            }
            else
            {
                unmapped.Add(column);
            }
        }

        if (unmapped.Count > 0)
        {
            throw new EvidenceException(
                $"Nobody said what {string.Join(", ", unmapped.Select(c => $"\"{c}\""))} holds; say it with --map \"{unmapped[0]}=FIELD\". {HowTo}");
        }

        ColumnUse[] inOrder = [.. table.Columns.Select(c => uses[c])];
        Check(inOrder, wants);
        return new ColumnMap(inOrder);
    }

    private static string HowTo =>
        $"FIELD is one of {string.Join(", ", Fields)}; behind a metric or \"value\" a unit may follow, as in randomRead:MB/s ({string.Join(", ", FigureUnit.Names)}), behind price a currency, as in price:EUR.";

    private static void Check(ColumnUse[] uses, TableWants wants)
    {
        foreach (ColumnField once in (ColumnField[])[ColumnField.Tag, ColumnField.Day, ColumnField.Metric, ColumnField.Value, ColumnField.Unit])
        {
            if (uses.Count(u => u.Field == once) > 1)
            {
                throw new EvidenceException($"Two columns are mapped to \"{once.ToString().ToLowerInvariant()}\"; map one of them to \"skip\".");
            }
        }

        if (uses.Where(u => u.Claim is not null).GroupBy(u => u.Claim!.Column).FirstOrDefault(g => g.Count() > 1) is { } twice)
        {
            throw new EvidenceException($"Two columns are mapped to \"{twice.Key}\"; map one of them to \"skip\".");
        }

        if (uses.All(u => u.Field != ColumnField.Tag))
        {
            throw new EvidenceException("No column holds the card: map one with --map \"COLUMN=tag\".");
        }

        if (uses.Any(u => u.Field == ColumnField.Metric) != uses.Any(u => u.Field == ColumnField.Value))
        {
            throw new EvidenceException("\"metric\" and \"value\" belong together: map both, or neither.");
        }

        bool hasClaims = uses.Any(u => u.Field == ColumnField.Claim);
        if (wants == TableWants.Claims && !hasClaims)
        {
            throw new EvidenceException("No column holds anything of a claim: map one with --map \"COLUMN=maker\"; see --help-columns.");
        }

        if (!hasClaims && uses.All(u => u.Field is not (ColumnField.Figure or ColumnField.Value)))
        {
            throw new EvidenceException("No column holds figures: map one with --map \"COLUMN=randomRead\" or another metric.");
        }
    }

    private static ColumnUse? Parse(string text)
    {
        string[] parts = text.Split(':', 2, StringSplitOptions.TrimEntries);
        ColumnUse? use = Headings.Named(parts[0]);
        if (use is null || parts.Length == 1)
        {
            return use;
        }

        string? unit = FigureUnit.Find(parts[1]);
        bool fits = use.Field switch
        {
            ColumnField.Figure => unit is not null && FigureUnit.Convert(1, unit, use.Kind) is not null,
            ColumnField.Value => unit is not null,
            ColumnField.Claim => use.Claim!.Shape == ClaimShape.Capacity ? parts[1] is "GB" or "TB" : use.Claim.Shape == ClaimShape.Money && parts[1].Length == 3 && parts[1].All(char.IsAsciiLetterUpper),
            _ => false,
        };
        return fits ? use with { Unit = use.Field == ColumnField.Claim ? parts[1] : unit } : null;
    }
}
