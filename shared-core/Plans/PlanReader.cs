using System.Text.Json;
using Cardassay.Json;
using Cardassay.Trials;

namespace Cardassay.Plans;

/// <summary>
/// Reads a plan: JSON with comments and trailing commas, described by `plan.schema.json` beside this file. The first thing that
/// is wrong ends the reading; nothing is guessed and no unknown key is passed over.
/// </summary>
public static class PlanReader
{
    private const int MaxSteps = 100;
    private const int MaxRepetitions = 500;

    /// <summary>Reads a plan from its text.</summary>
    /// <param name="text">The JSON text.</param>
    /// <param name="sourceName">What messages call it: the path of the file.</param>
    /// <exception cref="PlanException">Something is wrong; the message names line, column and key.</exception>
    public static Plan Parse(string text, string sourceName)
    {
        (PlanSource source, JsonValue root) = PlanSource.Read(text, sourceName);
        var plan = new PlanObject(
            source, root, "$schema", "name", "version", "description", "notShown", "repetitions", "warmUp", "restSeconds", "regionBytes",
            "regionMoves", "preconditionPasses", "stopAtFailure", "limits", "steps");
        plan.OptionalText("$schema");
        var read = new Plan
        {
            Name = Name(plan),
            Version = Version(plan),
            Description = plan.OptionalText("description") ?? "",
            NotShown = plan.OptionalText("notShown") ?? "",
            Repetitions = RepetitionsOf(source, plan),
            WarmUp = plan.Integer("warmUp", 0, 10) ?? 0,
            RestSeconds = plan.Number("restSeconds", 0, 3_600) ?? 0,
            RegionBytes = plan.Bytes("regionBytes", 1 << 20, 1L << 44, PlanRange.AlignBytes) ?? Plan.DefaultRegionBytes,
            RegionMoves = plan.Flag("regionMoves", false),
            PreconditionPasses = plan.Integer("preconditionPasses", 0, 10) ?? 0,
            StopAtFailure = plan.Flag("stopAtFailure", false),
            Limits = Limits(source, plan.Find("limits")),
            Cliff = CliffStepReader.Read(source, plan.Find("steps")),
            Proof = ProofStepReader.Read(source, plan.Find("steps")),
            Steps = Steps(source, plan),
            Text = text,
        };
        return read.PreconditionPasses > 0 && !read.Writes
            ? throw plan.Wrong("preconditionPasses", "The plan only reads, so it may not write beforehand either",
                "Remove the key, or add a step that writes")
            : read;
    }

    private static string Name(PlanObject plan)
    {
        string name = plan.RequiredText("name", "\"my-plan\"");
        bool good = name.Length is > 0 and <= 40 && name.All(c => char.IsAsciiLetterLower(c) || char.IsAsciiDigit(c) || c == '-');
        return good ? name : throw plan.Wrong("name", "This is no name of a plan", "Write 1 to 40 lower-case letters, digits and hyphens");
    }

    private static string Version(PlanObject plan)
    {
        string version = plan.RequiredText("version", "\"1\"");
        bool good = version.Length is > 0 and <= 20 && version.All(c => char.IsAsciiLetterOrDigit(c) || c is '.' or '-');
        return good
            ? version
            : throw plan.Wrong("version", "This is no version", "Write 1 to 20 letters, digits, dots and hyphens in quotes, such as \"1\"");
    }

    private static Repetitions RepetitionsOf(PlanSource source, PlanObject plan)
    {
        switch (plan.Find("repetitions"))
        {
            case null:
                return Repetitions.Fixed(3);
            case { Kind: JsonTokenType.Number } node:
                return Repetitions.Fixed(plan.Integer(node, 1, MaxRepetitions));
            case { Kind: JsonTokenType.StartObject } node:
                var adaptive = new PlanObject(source, node, "least", "most", "halfWidthPercent");
                int least = adaptive.Integer("least", RepetitionRule.LeastForInterval, MaxRepetitions) ?? RepetitionRule.LeastForInterval;
                int most = adaptive.Integer("most", RepetitionRule.LeastForInterval, MaxRepetitions) ?? RepetitionRule.LastLook;
                if (most <= least)
                {
                    throw adaptive.Wrong("most", "\"most\" is not greater than \"least\"",
                        "Write a greater number, or a plain number of repetitions");
                }

                return new Repetitions(least, most, adaptive.Number("halfWidthPercent", 0.1, 50) ?? Repetitions.DefaultHalfWidthPercent);
            case { } node:
                throw source.At(node, "A number or an object is expected here",
                    "Write 3, or { \"least\": 7, \"most\": 30, \"halfWidthPercent\": 5 }");
        }
    }

    private static PlanLimits Limits(PlanSource source, JsonValue? node)
    {
        if (node is null)
        {
            return new PlanLimits();
        }

        var limits = new PlanObject(source, node, "maxSeconds", "maxWriteBytes", "maxCapacities");
        var defaults = new PlanLimits();
        return new PlanLimits
        {
            MaxSeconds = limits.Number("maxSeconds", 1, 30 * 86_400) ?? defaults.MaxSeconds,
            MaxWriteBytes = limits.Bytes("maxWriteBytes", 0, 1L << 50, 1) ?? defaults.MaxWriteBytes,
            MaxCapacities = limits.Number("maxCapacities", 0.01, 10_000),
        };
    }

    private static List<PlanStep> Steps(PlanSource source, PlanObject plan)
    {
        JsonValue node = plan.Required("steps", "[ { \"kind\": \"randomRead\", \"seconds\": 10 } ]");
        if (node.Kind != JsonTokenType.StartArray || node.Items.Count is 0 or > MaxSteps)
        {
            throw source.At(node, "A list of 1 to 100 steps is expected here", "Write [ { \"kind\": \"randomRead\", \"seconds\": 10 } ]");
        }

        int before = CliffStepReader.IsCliff(node.Items[0]) ? 1 : 0;
        before += before < node.Items.Count && ProofStepReader.IsProof(node.Items[before]) ? 1 : 0;
        return [.. node.Items.Skip(before).Select(item => PlanStepReader.Read(source, item))];
    }
}
