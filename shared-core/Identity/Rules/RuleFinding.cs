using System.Globalization;

namespace Cardassay.Identity.Rules;

/// <summary>Writes findings for a rule.</summary>
internal static class RuleFinding
{
    /// <summary>A finding under the rule's id.</summary>
    public static Finding Note(this IFindingRule rule, string text, string source, string? settles, params FindingValue[] values) =>
        rule.Finding(FindingSeverity.Note, text, source, settles, values);

    /// <inheritdoc cref="Note"/>
    public static Finding Doubt(this IFindingRule rule, string text, string source, string? settles, params FindingValue[] values) =>
        rule.Finding(FindingSeverity.Doubt, text, source, settles, values);

    /// <inheritdoc cref="Note"/>
    public static Finding Contradiction(
        this IFindingRule rule, string text, string source, string? settles, params FindingValue[] values) =>
        rule.Finding(FindingSeverity.Contradiction, text, source, settles, values);

    /// <inheritdoc cref="Note"/>
    public static Finding Finding(
        this IFindingRule rule, FindingSeverity severity, string text, string source, string? settles,
        IReadOnlyList<FindingValue> values) =>
        new() { Id = rule.Id, Severity = severity, Text = text, Source = source, Settles = settles, Values = values };

    /// <summary>A named value, written without culture.</summary>
    public static FindingValue Value(string name, FormattableString value) => new(name, value.ToString(CultureInfo.InvariantCulture));

    /// <summary>A sentence or value, written without culture.</summary>
    public static string Text(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);

    /// <summary>"a", "a and b", "a, b and c".</summary>
    public static string List(IReadOnlyList<string> words) =>
        words.Count <= 1 ? string.Concat(words) : string.Join(", ", words.Take(words.Count - 1)) + " and " + words[^1];
}
