using System.Text;

namespace Cardassay.Plans;

/// <summary>The plans that come with the program: the JSON files beside this one, kept inside the assembly.</summary>
public static class BuiltInPlans
{
    private const string Prefix = "Cardassay.Plans.";

    /// <summary>Their names.</summary>
    public static IReadOnlyList<string> Names { get; } = ["capacity-full", "capacity-sparse", "class-marks", "first-look", "overnight",
        "read-only", "reference", "soak", "system-disk"];

    /// <summary>The JSON Schema of plan files.</summary>
    public static string SchemaText => Read("plan.schema.json");

    /// <summary>The plan of a name, or null when there is none.</summary>
    public static Plan? Find(string name) =>
        Names.Contains(name, StringComparer.Ordinal) ? PlanReader.Parse(Read($"{name}.json"), $"built-in plan {name}") : null;

    private static string Read(string file)
    {
        using Stream stream = typeof(BuiltInPlans).Assembly.GetManifestResourceStream(Prefix + file)
            ?? throw new InvalidOperationException($"The assembly does not hold {file}.");
        using var reader = new StreamReader(stream, Encoding.UTF8);
        return reader.ReadToEnd();
    }
}
