using Cardassay.Collector.Analysis.Figures;
using Cardassay.Trials;

namespace Cardassay.Collector.Exchange.HandKept;

/// <summary>Which column of a table holds what: as told, else by its name.</summary>
internal sealed class ColumnMap
{
    private ColumnMap(IReadOnlyList<ColumnUse> uses) => Uses = uses;

    /// <summary>One use for each column of the table.</summary>
    internal IReadOnlyList<ColumnUse> Uses { get; }

    /// <summary>Every field a column can be mapped to.</summary>
    internal static IReadOnlyList<string> Fields { get; } = ["tag", "day", .. Metrics.InOrder.Select(Metrics.NameOf), "metric", "value", "unit", "skip"];

    /// <summary>Maps every column.</summary>
    /// <param name="table">The table.</param>
    /// <param name="told">"COLUMN=FIELD" or "COLUMN=FIELD:UNIT" as given.</param>
    /// <param name="ask">Asks a person for a column nobody mapped and whose name says nothing; returns null when nobody is there.</param>
    /// <exception cref="EvidenceException">A mapping is wrong, a column is unmapped, or what a figure needs is missing.</exception>
    internal static ColumnMap Of(TableText table, IEnumerable<string> told, Func<string, string?> ask)
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
            if (ByName(column) is { } use)
            {
                uses[column] = use;
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
        Check(inOrder);
        return new ColumnMap(inOrder);
    }

    private static string HowTo =>
        $"FIELD is one of {string.Join(", ", Fields)}; behind a metric or \"value\" a unit may follow, as in randomRead:MB/s ({string.Join(", ", FigureUnit.Names)}).";

    private static void Check(ColumnUse[] uses)
    {
        foreach (ColumnField once in (ColumnField[])[ColumnField.Tag, ColumnField.Day, ColumnField.Metric, ColumnField.Value, ColumnField.Unit])
        {
            if (uses.Count(u => u.Field == once) > 1)
            {
                throw new EvidenceException($"Two columns are mapped to \"{once.ToString().ToLowerInvariant()}\"; map one of them to \"skip\".");
            }
        }

        if (uses.All(u => u.Field != ColumnField.Tag))
        {
            throw new EvidenceException("No column holds the card: map one with --map \"COLUMN=tag\".");
        }

        if (uses.Any(u => u.Field == ColumnField.Metric) != uses.Any(u => u.Field == ColumnField.Value))
        {
            throw new EvidenceException("\"metric\" and \"value\" belong together: map both, or neither.");
        }

        if (uses.All(u => u.Field is not (ColumnField.Figure or ColumnField.Value)))
        {
            throw new EvidenceException("No column holds figures: map one with --map \"COLUMN=randomRead\" or another metric.");
        }
    }

    private static ColumnUse? Parse(string text)
    {
        string[] parts = text.Split(':', 2, StringSplitOptions.TrimEntries);
        string? unit = parts.Length > 1 ? FigureUnit.Find(parts[1]) : null;
        if (parts.Length > 1 && unit is null)
        {
            return null;
        }

        ColumnUse? use = Plain(parts[0]);
        return use is null || (unit is not null && use.Field is not (ColumnField.Figure or ColumnField.Value))
            || (unit is not null && use.Field == ColumnField.Figure && FigureUnit.Convert(1, unit, use.Kind) is null)
            ? null
            : use with { Unit = unit };
    }

    /// <summary>"Random read (MB/s)", "randomRead, IOPS", "sequential-write MB/s" and the like name themselves.</summary>
    private static ColumnUse? ByName(string column)
    {
        string name = column;
        string? unit = null;
        foreach (string candidate in FigureUnit.Names)
        {
            string bare = name.TrimEnd(' ', ')', ']');
            if (bare.EndsWith(candidate, StringComparison.OrdinalIgnoreCase) && bare.Length > candidate.Length && !char.IsLetterOrDigit(bare[^(candidate.Length + 1)]))
            {
                unit = candidate;
                name = bare[..^candidate.Length];
                break;
            }
        }

        return Plain(name) is not { } use || (unit is not null && use.Field == ColumnField.Figure && FigureUnit.Convert(1, unit, use.Kind) is null)
            ? null
            : use with { Unit = unit };
    }

    private static ColumnUse? Plain(string name)
    {
        string bare = Bare(name);
        TrialKind kind = Metrics.InOrder.FirstOrDefault(k => Bare(Metrics.NameOf(k)) == bare);
        return kind != TrialKind.Unknown
            ? new ColumnUse(ColumnField.Figure, kind)
            : bare switch
            {
                "tag" or "card" => new ColumnUse(ColumnField.Tag),
                "day" or "date" => new ColumnUse(ColumnField.Day),
                "metric" => new ColumnUse(ColumnField.Metric),
                "value" => new ColumnUse(ColumnField.Value),
                "unit" => new ColumnUse(ColumnField.Unit),
                "skip" => new ColumnUse(ColumnField.Skip),
                _ => null,
            };
    }

    private static string Bare(string name) => string.Concat(name.Where(char.IsLetterOrDigit)).ToLowerInvariant();
}
