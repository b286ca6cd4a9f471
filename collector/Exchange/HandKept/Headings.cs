using System.Text.RegularExpressions;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Trials;

namespace Cardassay.Collector.Exchange.HandKept;

/// <summary>What headings mean: our own names, and what people usually write above such columns (common practice, no source).</summary>
internal static partial class Headings
{
    private static readonly Dictionary<string, string> UsualClaims = new(StringComparer.Ordinal)
    {
        ["brand"] = "maker", ["manufacturer"] = "maker", ["make"] = "maker", ["vendor"] = "maker",
        ["model"] = "product", ["productname"] = "product", ["series"] = "product",
        ["capacity"] = "labelGigabytes", ["size"] = "labelGigabytes", ["gigabytes"] = "labelGigabytes", ["gb"] = "labelGigabytes", ["labelcapacity"] = "labelGigabytes",
        ["mark"] = "marks", ["class"] = "marks", ["classes"] = "marks", ["speedclass"] = "marks",
        ["statedread"] = "statedReadMBps", ["advertisedread"] = "statedReadMBps", ["claimedread"] = "statedReadMBps",
        ["statedwrite"] = "statedWriteMBps", ["advertisedwrite"] = "statedWriteMBps", ["claimedwrite"] = "statedWriteMBps",
        ["cost"] = "price", ["paid"] = "price", ["pricepaid"] = "price",
        ["dateofprice"] = "priceDate",
        ["bought"] = "purchased", ["boughton"] = "purchased", ["purchasedate"] = "purchased", ["datebought"] = "purchased", ["dateofpurchase"] = "purchased",
        ["shop"] = "boughtAt", ["store"] = "boughtAt", ["seller"] = "boughtAt", ["boughtfrom"] = "boughtAt", ["where"] = "boughtAt",
        ["state"] = "condition", ["newused"] = "condition",
    };

    /// <summary>By themselves these do not say in which unit their figures are written; the heading or the cell must.</summary>
    private static readonly Dictionary<string, TrialKind> UsualFigures = new(StringComparer.Ordinal)
    {
        ["randread"] = TrialKind.RandomRead, ["rndread"] = TrialKind.RandomRead, ["4kread"] = TrialKind.RandomRead, ["4krandomread"] = TrialKind.RandomRead,
        ["4krandread"] = TrialKind.RandomRead, ["randomread4k"] = TrialKind.RandomRead, ["random4kread"] = TrialKind.RandomRead,
        ["randwrite"] = TrialKind.RandomWrite, ["rndwrite"] = TrialKind.RandomWrite, ["4kwrite"] = TrialKind.RandomWrite, ["4krandomwrite"] = TrialKind.RandomWrite,
        ["4krandwrite"] = TrialKind.RandomWrite, ["randomwrite4k"] = TrialKind.RandomWrite, ["random4kwrite"] = TrialKind.RandomWrite,
        ["seqread"] = TrialKind.SequentialRead, ["seqwrite"] = TrialKind.SequentialWrite,
        ["syncwrite"] = TrialKind.SynchronousWrite, ["fsyncwrite"] = TrialKind.SynchronousWrite,
    };

    private static readonly HashSet<string> UsualTags = new(StringComparer.Ordinal)
    {
        "cardid", "cardno", "cardnumber", "id", "no", "nr", "number", "sticker", "label",
    };

    private static readonly HashSet<string> UsualRemarks = new(StringComparer.Ordinal) { "remark", "remarks", "note", "notes", "comment", "comments" };

    private static readonly string[] ClaimUnits = ["GB", "TB", "MB/s"];

    /// <summary>What a column of this name holds; null when the name says nothing certain.</summary>
    internal static ColumnUse? Find(string heading)
    {
        (string name, string? unit) = Split(heading);
        string bare = Bare(name);
        if (Own(bare) is { } own)
        {
            return Fits(own, unit) ? own with { Unit = unit } : null;
        }

        if (ClaimFields.OfColumn(bare) is { } field)
        {
            return Claim(field, unit, isSure: true);
        }

        if (UsualClaims.TryGetValue(bare, out string? column))
        {
            return Claim(ClaimFields.OfColumn(column)!, unit ?? (bare == "gb" ? "GB" : null), isSure: false);
        }

        if (UsualFigures.TryGetValue(bare, out TrialKind kind))
        {
            var use = new ColumnUse(ColumnField.Figure, kind, unit) { IsSure = false };
            return Fits(use, unit) ? use : null;
        }

        ColumnField? plain = UsualTags.Contains(bare) ? ColumnField.Tag
            : UsualRemarks.Contains(bare) ? ColumnField.Skip
            : bare is "measured" or "measuredon" or "tested" or "testedon" or "testdate" ? ColumnField.Day : null;
        return plain is { } known && unit is null ? new ColumnUse(known) { IsSure = false } : null;
    }

    /// <summary>What a person who maps a column may call its field.</summary>
    internal static ColumnUse? Named(string name) =>
        Own(Bare(name)) ?? (ClaimFields.OfColumn(Bare(name)) is { } field ? new ColumnUse(ColumnField.Claim) { Claim = field } : null);

    /// <summary>The heading's name and the unit or currency behind it: "Price (EUR)", "4k read, MB/s", "Capacity [GB]".</summary>
    private static (string Name, string? Unit) Split(string heading)
    {
        string text = heading.Trim().TrimEnd(')', ']').TrimEnd();
        foreach (string unit in FigureUnit.Names.Concat(ClaimUnits))
        {
            if (text.EndsWith(unit, StringComparison.OrdinalIgnoreCase) && text.Length > unit.Length && !char.IsLetterOrDigit(text[^(unit.Length + 1)]))
            {
                return (text[..^unit.Length], unit);
            }
        }

        return Currency().Match(text) is { Success: true } money ? (text[..money.Index], MoneyText.CodeOf(money.Groups[1].Value)) : (heading, null);
    }

    private static ColumnUse? Own(string bare)
    {
        TrialKind kind = TrialKinds.All.FirstOrDefault(k => Bare(TrialKinds.NameOf(k)) == bare);
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

    private static ColumnUse? Claim(ClaimField field, string? unit, bool isSure)
    {
        bool fits = unit is null || field.Shape switch
        {
            ClaimShape.Capacity => unit is "GB" or "TB",
            ClaimShape.Speed => unit == "MB/s",
            ClaimShape.Money => unit.Length == 3 && unit.All(char.IsAsciiLetterUpper),
            _ => false,
        };
        return fits ? new ColumnUse(ColumnField.Claim, Unit: unit) { Claim = field, IsSure = isSure && unit is null } : null;
    }

    private static bool Fits(ColumnUse use, string? unit) => unit is null || use.Field switch
    {
        ColumnField.Figure => FigureUnit.Find(unit) is not null && FigureUnit.Convert(1, unit, use.Kind) is not null,
        ColumnField.Value => FigureUnit.Find(unit) is not null,
        _ => false,
    };

    private static string Bare(string name) => string.Concat(name.Where(char.IsLetterOrDigit)).ToLowerInvariant();

    [GeneratedRegex(@"[\s(\[,/]([A-Z]{3}|[€£])$")]
    private static partial Regex Currency();
}
