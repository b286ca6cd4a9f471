using System.Globalization;
using System.Text;
using System.Text.RegularExpressions;

namespace Cardassay.Collector.Tests.Observability;

/// <summary>
/// Reads the text format of Prometheus, version 0.0.4, and refuses whatever the published description does not allow. Source:
/// prometheus.io/docs/instrumenting/exposition_formats (section "Text format details") and, for the names,
/// prometheus.io/docs/concepts/data_model. Written for this test; it shares no code with the exporter.
/// </summary>
internal sealed partial class Exposition
{
    private readonly Dictionary<string, string> _types = new(StringComparer.Ordinal);
    private readonly Dictionary<string, string> _helps = new(StringComparer.Ordinal);
    private readonly List<(string Name, IReadOnlyDictionary<string, string> Labels, double Value)> _samples = [];

    /// <summary>Kind of each metric that has a TYPE line.</summary>
    internal IReadOnlyDictionary<string, string> Types => _types;

    internal IReadOnlyDictionary<string, string> Helps => _helps;

    internal IReadOnlyList<(string Name, IReadOnlyDictionary<string, string> Labels, double Value)> Samples => _samples;

    /// <exception cref="FormatException">The text breaks a rule; the message names the line.</exception>
    internal static Exposition Parse(string text)
    {
        var read = new Exposition();
        if (!text.EndsWith('\n'))
        {
            throw new FormatException("the last line does not end with a line feed");
        }

        if (text.Contains('\r'))
        {
            throw new FormatException("a carriage return: lines end with a line feed alone");
        }

        var closed = new HashSet<string>(StringComparer.Ordinal);
        var seen = new HashSet<string>(StringComparer.Ordinal);
        string? group = null;
        foreach (string raw in text[..^1].Split('\n'))
        {
            string line = raw.Trim(' ', '\t');
            if (line.Length == 0)
            {
                continue;
            }

            string? metric = line[0] == '#' ? read.Comment(line) : read.Sample(line, seen);
            if (metric is not null && metric != group)
            {
                // "All lines for a given metric must be provided as one single group".
                if (!closed.Add(metric))
                {
                    throw new FormatException($"the lines of {metric} are not one group: {line}");
                }

                group = metric;
            }
        }

        read.CheckHistograms();
        return read;
    }

    /// <summary>The value of the only sample with this name and these labels.</summary>
    internal double Value(string name, params (string Name, string Value)[] labels) => _samples.Single(s =>
        s.Name == name && labels.All(l => s.Labels.TryGetValue(l.Name, out string? value) && value == l.Value)).Value;

    private string? Comment(string line)
    {
        string[] parts = line[1..].Split([' ', '\t'], StringSplitOptions.RemoveEmptyEntries);
        if (parts.Length == 0 || parts[0] is not ("HELP" or "TYPE"))
        {
            return null; // an ordinary comment
        }

        if (parts.Length < 2 || !MetricName().IsMatch(parts[1]))
        {
            throw new FormatException($"no metric name: {line}");
        }

        if (parts[0] == "HELP")
        {
            if (Regex.IsMatch(line, @"(?<!\\)(\\\\)*\\(?![\\n])"))
            {
                throw new FormatException($"a help text may only hold \\\\ and \\n as escapes: {line}");
            }

            return _helps.TryAdd(parts[1], string.Join(' ', parts[2..])) ? parts[1] : throw new FormatException($"a second HELP: {line}");
        }

        if (parts.Length != 3 || parts[2] is not ("counter" or "gauge" or "histogram" or "summary" or "untyped"))
        {
            throw new FormatException($"no such type: {line}");
        }

        if (_samples.Any(s => Family(s.Name) == parts[1]))
        {
            throw new FormatException($"TYPE after the first sample: {line}");
        }

        return _types.TryAdd(parts[1], parts[2]) ? parts[1] : throw new FormatException($"a second TYPE: {line}");
    }

    private string Sample(string line, HashSet<string> seen)
    {
        Match match = SampleLine().Match(line);
        if (!match.Success)
        {
            throw new FormatException($"not a sample: {line}");
        }

        string name = match.Groups["name"].Value;
        var labels = new SortedDictionary<string, string>(StringComparer.Ordinal);
        string rest = match.Groups["labels"].Value;
        while (rest.Length > 0)
        {
            Match label = Label().Match(rest);
            if (!label.Success || label.Groups["name"].Value.StartsWith("__", StringComparison.Ordinal))
            {
                throw new FormatException($"not a label: {rest}");
            }

            if (!labels.TryAdd(label.Groups["name"].Value, Unescape(label.Groups["value"].Value)))
            {
                throw new FormatException($"a label twice: {line}");
            }

            rest = rest[label.Length..];
        }

        double value = Number(match.Groups["value"].Value);
        if (!seen.Add($"{name}{{{string.Join(',', labels.Select(l => $"{l.Key}={l.Value}"))}}}"))
        {
            throw new FormatException($"the same sample twice: {line}");
        }

        string family = Family(name);
        if (_types.GetValueOrDefault(family) == "counter" && !(value >= 0))
        {
            throw new FormatException($"a counter below zero: {line}");
        }

        _samples.Add((name, labels, value));
        return family;
    }

    /// <summary>The metric a sample belongs to: a histogram's and a summary's samples have endings of their own.</summary>
    private string Family(string name)
    {
        foreach (string ending in (string[])["_bucket", "_sum", "_count"])
        {
            if (name.EndsWith(ending, StringComparison.Ordinal) && _types.GetValueOrDefault(name[..^ending.Length]) is "histogram" or "summary")
            {
                return name[..^ending.Length];
            }
        }

        return name;
    }

    /// <summary>Buckets are cumulative and ascending, the one of +Inf is there and equals the count, and there is a sum.</summary>
    private void CheckHistograms()
    {
        foreach (string histogram in _types.Where(t => t.Value == "histogram").Select(t => t.Key))
        {
            foreach (var series in _samples.Where(s => Family(s.Name) == histogram)
                .GroupBy(s => string.Join(',', s.Labels.Where(l => l.Key != "le").Select(l => $"{l.Key}={l.Value}"))))
            {
                (double Le, double Value)[] buckets =
                    [.. series.Where(s => s.Name == histogram + "_bucket").Select(s => (Number(s.Labels["le"]), s.Value))];
                double count = series.Single(s => s.Name == histogram + "_count").Value;
                _ = series.Single(s => s.Name == histogram + "_sum");
                if (buckets.Length == 0 || !double.IsPositiveInfinity(buckets[^1].Le) || buckets[^1].Value != count)
                {
                    throw new FormatException($"{histogram}: the last bucket is not that of +Inf with the count");
                }

                if (buckets.Zip(buckets.Skip(1)).Any(p => p.First.Le >= p.Second.Le || p.First.Value > p.Second.Value))
                {
                    throw new FormatException($"{histogram}: the buckets do not ascend");
                }
            }
        }
    }

    private static double Number(string text) => text switch
    {
        "NaN" => double.NaN,
        "+Inf" => double.PositiveInfinity,
        "-Inf" => double.NegativeInfinity,
        _ => double.TryParse(text, NumberStyles.Float & ~NumberStyles.AllowLeadingWhite & ~NumberStyles.AllowTrailingWhite, CultureInfo.InvariantCulture, out double value)
            ? value
            : throw new FormatException($"not a number: {text}"),
    };

    private static string Unescape(string text)
    {
        var plain = new StringBuilder(text.Length);
        for (int i = 0; i < text.Length; i++)
        {
            plain.Append(text[i] != '\\' ? text[i] : text[++i] == 'n' ? '\n' : text[i]);
        }

        return plain.ToString();
    }

    [GeneratedRegex("^[a-zA-Z_:][a-zA-Z0-9_:]*$")]
    private static partial Regex MetricName();

    [GeneratedRegex("""^(?<name>[a-zA-Z_:][a-zA-Z0-9_:]*)[ \t]*(\{(?<labels>([^"}]|"(\\[\\"n]|[^"\\])*")*)\})?[ \t]+(?<value>[^ \t]+)([ \t]+-?[0-9]+)?$""")]
    private static partial Regex SampleLine();

    [GeneratedRegex("""^[ \t]*(?<name>[a-zA-Z_][a-zA-Z0-9_]*)[ \t]*=[ \t]*"(?<value>(\\[\\"n]|[^"\\])*)"[ \t]*(,[ \t]*|$)""")]
    private static partial Regex Label();
}
