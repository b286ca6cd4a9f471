using System.Text.RegularExpressions;

namespace Cardassay.Architecture.Tests;

/// <summary>Rooms, the folders at the first level, know each other in one direction only: what is in a cycle can be read and changed only as a whole.</summary>
public sealed partial class RoomCycleTests
{
    [Theory]
    [InlineData(RoomRules.SharedCore, "Cardassay.")]
    [InlineData(RoomRules.Agent, "Cardassay.Agent.")]
    [InlineData(RoomRules.Collector, "Cardassay.Collector.")]
    public void Rooms_KnowEachOtherInOneDirection(string assembly, string root)
    {
        AssertNoCycle(Rooms(assembly, root), (room, used) => Between(assembly, root + room + ".", root + used + "."));
    }

    /// <summary>A constant of another room leaves no trace in the compiled assembly; its `using` is there to read.</summary>
    [Theory]
    [InlineData("shared-core", "Cardassay.")]
    [InlineData("agent", "Cardassay.Agent.")]
    [InlineData("collector", "Cardassay.Collector.")]
    public void Sources_NameRoomsInOneDirection(string folder, string root)
    {
        var uses = new Dictionary<string, HashSet<string>>(StringComparer.Ordinal);
        var files = new List<(string From, string To, string File)>();
        foreach (string file in Directory.EnumerateFiles(Path.Combine(RoomRules.RepositoryRoot(), folder), "*.cs", SearchOption.AllDirectories).Where(f => !f.Contains("/obj/", StringComparison.Ordinal)))
        {
            string text = File.ReadAllText(file);
            if (Room(Namespace().Match(text).Groups[1].Value + ".", root) is not { } from)
            {
                continue;
            }

            foreach (string to in Using().Matches(text).Select(u => Room(u.Groups[1].Value + ".", root)).OfType<string>().Where(to => to != from))
            {
                uses.TryAdd(from, []);
                uses[from].Add(to);
                files.Add((from, to, Path.GetFileName(file)));
            }
        }

        Assert.NotEmpty(files);
        AssertNoCycle(uses, (room, used) => files.Where(f => f.From == room && f.To == used).Select(f => f.File));
    }

    private static void AssertNoCycle(Dictionary<string, HashSet<string>> uses, Func<string, string, IEnumerable<string>> between)
    {
        string[] cycles = [.. uses.Keys.Where(room => Reached(uses, room).Contains(room)).Order(StringComparer.Ordinal)];
        string[] links = [.. cycles.SelectMany(room => uses[room].Where(used => Reached(uses, used).Contains(room)).Select(used =>
            $"{room} -> {used}: {string.Join(", ", between(room, used).Distinct().Order(StringComparer.Ordinal).Take(60))}"))];
        Assert.True(links.Length == 0, string.Join('\n', links));
    }

    private static Dictionary<string, HashSet<string>> Rooms(string assembly, string root)
    {
        var uses = new Dictionary<string, HashSet<string>>(StringComparer.Ordinal);
        foreach ((string user, string used) in RoomRules.Uses(assembly))
        {
            if (Room(user, root) is { } from && Room(used, root) is { } to && from != to)
            {
                uses.TryAdd(from, []);
                uses[from].Add(to);
            }
        }

        return uses;
    }

    private static HashSet<string> Reached(Dictionary<string, HashSet<string>> uses, string from)
    {
        HashSet<string> reached = [];
        var left = new Stack<string>(uses.GetValueOrDefault(from) ?? []);
        while (left.TryPop(out string? room))
        {
            if (reached.Add(room))
            {
                foreach (string next in uses.GetValueOrDefault(room) ?? [])
                {
                    left.Push(next);
                }
            }
        }

        return reached;
    }

    private static IEnumerable<string> Between(string assembly, string from, string to) => RoomRules.Uses(assembly)
        .Where(u => u.User.StartsWith(from, StringComparison.Ordinal) && u.Used.StartsWith(to, StringComparison.Ordinal))
        .Select(u => $"{u.User[from.Length..]} uses {u.Used[to.Length..]}");

    /// <summary>The first name below the root; null for types of no room, of another assembly or of a package.</summary>
    private static string? Room(string type, string root)
    {
        string[] rest = type.StartsWith(root, StringComparison.Ordinal) ? type[root.Length..].Split('.') : [];
        return rest.Length > 1 && rest[0] is not ("V1" or "Wire" or "Agent" or "Collector") ? rest[0] : null;
    }

    [GeneratedRegex(@"^namespace ([\w.]+);", RegexOptions.Multiline)]
    private static partial Regex Namespace();

    [GeneratedRegex(@"^using (?:static )?([\w.]+);", RegexOptions.Multiline)]
    private static partial Regex Using();
}
