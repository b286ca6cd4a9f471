using System.CommandLine;
using System.Globalization;
using Cardassay.Identity;

namespace Cardassay.Agent.Commands;

/// <summary>The options with which a person says what label and shop promise, to judge a card where there is no collector.</summary>
internal sealed class ClaimOptions
{
    private readonly Option<string?> _gigabytes = new("--claim-gb")
    {
        Description = "Capacity printed on the card, gigabytes.",
        HelpName = "N",
    };

    private readonly Option<string?> _marks = new("--claim-marks")
    {
        Description = "Marks printed on the card (\"C10 U3 V30 A2\"); \"none\" when there are none.",
        HelpName = "MARKS",
    };

    private readonly Option<string?> _maker = new("--claim-maker") { Description = "Maker as printed.", HelpName = "TEXT" };

    private readonly Option<string?> _product = new("--claim-product") { Description = "Product as printed.", HelpName = "TEXT" };

    private readonly Option<string?> _condition = new("--condition") { Description = "Sold as new, or used.", HelpName = "new|used" };

    private readonly Option<string?> _purchased = new("--purchased")
    {
        Description = "Day the card was bought, yyyy-MM-dd.",
        HelpName = "DATE",
    };

    internal void AddTo(Command command)
    {
        foreach (Option<string?> option in new[] { _gigabytes, _marks, _maker, _product, _condition, _purchased })
        {
            command.Options.Add(option);
        }
    }

    /// <summary>The claim, or null when nothing was said.</summary>
    /// <exception cref="CommandException">An option or the tag holds something else than it should; exit code 2.</exception>
    internal Claim? Read(ParseResult parsed, string? tag)
    {
        if (tag is not null && ClaimCheck.TagProblem(tag) is { } wrong)
        {
            throw Usage("--" + wrong);
        }

        Claim nothing = new() { Tag = tag ?? "untagged" };
        Claim claim = nothing with
        {
            LabelGigabytes = Gigabytes(parsed.GetValue(_gigabytes)),
            Marks = Marks(parsed.GetValue(_marks)),
            Maker = parsed.GetValue(_maker),
            Product = parsed.GetValue(_product),
            Condition = Condition(parsed.GetValue(_condition)),
            Purchased = Purchased(parsed.GetValue(_purchased)),
        };
        return ClaimCheck.Problems(claim) is [{ } first, ..] ? throw Usage(AsOption(first)) : claim == nothing ? null : claim;
    }

    private static decimal? Gigabytes(string? text) =>
        text is null ? null
        : decimal.TryParse(text, NumberStyles.AllowDecimalPoint, CultureInfo.InvariantCulture, out decimal value) ? value
        : throw Usage($"--claim-gb: \"{text}\" is no number of gigabytes; write it as printed on the card, for example 64.");

    private static IReadOnlyList<string>? Marks(string? text) =>
        text is null ? null
        : string.IsNullOrWhiteSpace(text) ? throw Usage("--claim-marks: give the marks on the card, for example \"C10 U1\", or none.")
        : ClaimCheck.SplitMarks(text);

    private static CardCondition Condition(string? text) => text switch
    {
        null => CardCondition.Unknown,
        "new" => CardCondition.New,
        "used" => CardCondition.Used,
        _ => throw Usage($"--condition: \"{text}\" is neither new nor used."),
    };

    private static DateOnly? Purchased(string? text) =>
        text is null ? null
        : DateOnly.TryParseExact(text, "yyyy-MM-dd", CultureInfo.InvariantCulture, DateTimeStyles.None, out DateOnly day) ? day
        : throw Usage($"--purchased: \"{text}\" is no date; write it like 2026-02-28.");

    // A claim's problems name its fields as a CSV file does.
    private static string AsOption(string problem) =>
        (problem.StartsWith("gigabytes:", StringComparison.Ordinal) ? "--claim-gb" + problem["gigabytes".Length..] : "--claim-" + problem);

    private static CommandException Usage(string problem) => new(problem, 2);
}
