using System.Text.Json;
using Cardassay.Collector.Analysis.Figures;
using Cardassay.Json;
using Cardassay.Plans;
using Cardassay.Trials;
using static System.FormattableString;

namespace Cardassay.Collector.Analysis.Profiles;

/// <summary>
/// Reads a user's profile: a JSON object with "name" and "metrics", comments and trailing commas allowed. Each metric has "metric",
/// "weight", "reference" and may have "floor", "enough", "blockBytes", "queueDepth". Unknown, doubled and missing keys are errors,
/// and all errors are told at once.
/// </summary>
public sealed class ProfileFile
{
    private const double WeightSlack = 1e-6;
    private static readonly string[] MetricKeys = ["metric", "weight", "reference", "floor", "enough", "blockBytes", "queueDepth"];

    private readonly string _file;
    private readonly byte[] _utf8;
    private readonly List<string> _errors = [];

    private ProfileFile(string file, ReadOnlySpan<byte> utf8)
    {
        _file = file;
        _utf8 = (utf8.StartsWith("\uFEFF"u8) ? utf8[3..] : utf8).ToArray();
    }

    /// <summary>Reads a profile.</summary>
    /// <param name="utf8">The file's content.</param>
    /// <param name="fileName">Name used in errors.</param>
    /// <exception cref="ProfileFileException">The content is no usable profile.</exception>
    public static UseProfile Parse(ReadOnlySpan<byte> utf8, string fileName)
    {
        var file = new ProfileFile(fileName, utf8);
        UseProfile? profile = null;
        try
        {
            profile = file.Read(JsonText.Read(file._utf8));
        }
        catch (JsonTextException broken)
        {
            file._errors.Add(Invariant($"{fileName}, line {file.LineOf(broken.OffsetBytes)}: not valid JSON"));
        }

        return file._errors.Count == 0 ? profile! : throw new ProfileFileException(file._errors);
    }

    private UseProfile? Read(JsonValue root)
    {
        if (root.Kind != JsonTokenType.StartObject)
        {
            Fail(root, "", "must be an object with \"name\" and \"metrics\"");
            return null;
        }

        CheckKeys(root, "", ["name", "metrics"], ["name", "metrics"]);
        string? name = root.Find("name") is { } n ? n.String ?? Fail<string>(n, "name", "must be text") : null;
        if (name is not null && (name.Length == 0 || !name.All(c => char.IsAsciiLetterLower(c) || char.IsAsciiDigit(c) || c == '-')))
        {
            Fail(root.Find("name")!, "name", "may hold lower-case letters, digits and '-' only");
        }
        else if (name is not null && UseProfile.Named(name) is not null)
        {
            Fail(root.Find("name")!, "name", $"is the name of a built-in profile: {name}");
        }

        ProfileMetric[] metrics = root.Find("metrics") is { } list ? ReadMetrics(list) : [];
        return name is null || _errors.Count > 0 ? null : new UseProfile(name, metrics);
    }

    private ProfileMetric[] ReadMetrics(JsonValue list)
    {
        if (list.Items is not { Count: > 0 } items)
        {
            Fail(list, "metrics", "must be a list of at least one metric");
            return [];
        }

        var metrics = new List<ProfileMetric>();
        for (int i = 0; i < items.Count; i++)
        {
            if (ReadMetric(items[i], Invariant($"metrics[{i}]")) is { } metric)
            {
                if (metrics.Exists(m => m.Kind == metric.Kind))
                {
                    Fail(items[i].Find("metric")!, Invariant($"metrics[{i}].metric"), $"{TrialKinds.NameOf(metric.Kind)} is listed twice");
                }

                metrics.Add(metric);
            }
        }

        double sum = metrics.Sum(m => m.Weight);
        if (_errors.Count == 0 && Math.Abs(sum - 1) > WeightSlack)
        {
            Fail(list, "metrics", Invariant($"weights must add up to 1, these add up to {sum:0.######}"));
        }

        return [.. metrics];
    }

    private ProfileMetric? ReadMetric(JsonValue item, string key)
    {
        if (item.Kind != JsonTokenType.StartObject)
        {
            Fail(item, key, "must be an object");
            return null;
        }

        int before = _errors.Count;
        CheckKeys(item, key + ".", MetricKeys, ["metric", "weight", "reference"]);
        TrialKind? kind = item.Find("metric") is { } name ? Kind(name, key + ".metric") : null;
        double? weight = Number(item, key, "weight", v => v is > 0 and <= 1, "must be above 0 and at most 1");
        double? reference = Number(item, key, "reference", v => v > 0, "must be above 0");
        double? floor = Number(item, key, "floor", v => v >= 0, "must not be negative");
        double? enough = Number(item, key, "enough", v => v > 0 && !(v < floor), "must be above 0 and not below the floor");
        double? block = Number(item, key, "blockBytes", v => v >= 512 && v % 512 == 0 && v <= 1 << 30,
            "must be a multiple of 512 up to 1 GiB");
        double? depth = Number(item, key, "queueDepth", v => v is >= 1 and <= 64 && v == Math.Floor(v),
            "must be a whole number from 1 to 64");
        return _errors.Count > before
            ? null
            : new ProfileMetric(kind!.Value, weight!.Value, reference!.Value, floor, (long?)block, (int?)depth, enough);
    }

    private TrialKind? Kind(JsonValue value, string key)
    {
        if (value.String is { } text && TrialKinds.Parse(text) is { } kind && kind != TrialKind.StallWatch && !TrialKinds.IsClass(kind))
        {
            return kind;
        }

        Fail(value, key, "must be one of "
            + string.Join(", ", TrialKinds.All.Where(k => k != TrialKind.StallWatch && !TrialKinds.IsClass(k)).Select(TrialKinds.NameOf)));
        return null;
    }

    private double? Number(JsonValue item, string key, string name, Func<double, bool> fits, string must)
    {
        if (item.Find(name) is not { } value)
        {
            return null;
        }

        if (value.Number is { } number && fits(number))
        {
            return number;
        }

        Fail(value, $"{key}.{name}", must);
        return null;
    }

    private void CheckKeys(JsonValue item, string prefix, string[] known, string[] needed)
    {
        foreach (IGrouping<string, JsonMember> member in item.Members.GroupBy(m => m.Name, StringComparer.Ordinal))
        {
            if (!known.Contains(member.Key))
            {
                Fail(member.First().Value, prefix + member.Key, "is not a key of a profile; known here: " + string.Join(", ", known));
            }
            else if (member.Count() > 1)
            {
                Fail(member.Last().Value, prefix + member.Key, "is given twice");
            }
        }

        foreach (string key in needed.Where(k => item.Find(k) is null))
        {
            Fail(item, prefix + key, "is missing");
        }
    }

    private void Fail(JsonValue at, string key, string what) =>
        _errors.Add(Invariant($"{_file}, line {LineOf(at.OffsetBytes)}{(key.Length == 0 ? "" : ", " + key)}: {what}"));

    private int LineOf(int offsetBytes) => JsonText.PlaceOf(_utf8, offsetBytes).Line;

    private T? Fail<T>(JsonValue at, string key, string what)
        where T : class
    {
        Fail(at, key, what);
        return null;
    }
}
