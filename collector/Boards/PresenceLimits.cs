using System.Globalization;

namespace Cardassay.Collector.Boards;

/// <summary>What one presence may hold: it is kept in memory and shown to people, so that everything in it is bounded.</summary>
internal static class PresenceLimits
{
    /// <summary>Most finished runs of one presence.</summary>
    internal const int MaxFinished = 1_000;

    /// <summary>Most slots of one board.</summary>
    internal const int MaxSlots = 64;

    /// <summary>Most entries of one board that are checked ahead.</summary>
    internal const int MaxPreflight = 1_000;

    /// <summary>Most obstacles of one of them.</summary>
    internal const int MaxObstacles = 64;

    /// <summary>Most runs beside the first.</summary>
    internal const int MaxBeside = 8;

    /// <summary>Most pairs of slots that were tested; the agent keeps 16.</summary>
    internal const int MaxPairs = 64;

    /// <summary>Most comparisons of one of them; the agent makes 32.</summary>
    internal const int MaxComparisons = 256;

    /// <summary>Most register files of a card; the kernel has 21.</summary>
    internal const int MaxFiles = 32;

    /// <summary>Longest text, characters; a sentence for a person.</summary>
    internal const int MaxText = 4_096;

    /// <summary>Longest name, characters.</summary>
    internal const int MaxName = 256;

    /// <summary>What is too much, in one sentence, or null.</summary>
    internal static string? WhyNot(V1.Presence presence)
    {
        IEnumerable<(string Field, int Has, int Limit, string What)> counts =
        [
            ("finished", presence.Finished.Count, MaxFinished, "runs"),
            ("slots", presence.Slots.Count, MaxSlots, "slots"),
            .. presence.Slots.Select(s => ("slots.files", s.Files.Count, MaxFiles, "files")),
            ("preflight", presence.Preflight.Count, MaxPreflight, "entries"),
            .. presence.Preflight.Select(p => ("preflight.obstacles", p.Obstacles.Count, MaxObstacles, "obstacles")),
            ("beside", presence.Beside.Count, MaxBeside, "runs"),
            ("slot_pairs", presence.SlotPairs.Count, MaxPairs, "pairs"),
            .. presence.SlotPairs.Select(p => ("slot_pairs.comparisons", p.Comparisons.Count, MaxComparisons, "comparisons")),
        ];
        // Of a presence with too many parts the texts are not looked at.
        return Excess(counts) ?? Excess(Texts(presence).Select(t => (t.Field, t.Text.Length, t.Limit, "characters")))
            ?? (presence.BootId.Length is 0 or 16 ? null : Sentence("boot_id", presence.BootId.Length, 16, "bytes"));
    }

    private static IEnumerable<(string Field, string Text, int Limit)> Texts(V1.Presence presence) =>
        [
            ("board_model", presence.BoardModel, MaxName),
            ("agent_version", presence.AgentVersion, MaxName),
            ("progress.schedule_id", presence.Progress?.ScheduleId ?? "", MaxName),
            ("progress.step", presence.Progress?.Step ?? "", MaxText),
            .. presence.Beside.SelectMany(p => new[] { ("beside.schedule_id", p.ScheduleId, MaxName), ("beside.step", p.Step, MaxText) }),
            .. presence.SlotPairs.SelectMany(
                p => new[] { ("slot_pairs.disk_name", p.DiskName, MaxName), ("slot_pairs.other_disk_name", p.OtherDiskName, MaxName),
                    ("slot_pairs.place", p.Place, MaxText), ("slot_pairs.other_place", p.OtherPlace, MaxText) }),
            .. presence.SlotPairs.SelectMany(
                p => new[] { ("slot_pairs.kernel_release", p.KernelRelease, MaxName), ("slot_pairs.agent_version", p.AgentVersion, MaxName),
                    ("slot_pairs.outdated", p.Outdated, MaxText) }),
            .. presence.Slots.SelectMany(
                s => new[] { ("slots.disk_name", s.DiskName, MaxName), ("slots.identity", s.Identity, MaxName),
                    ("slots.tag", s.Tag, MaxName) }),
            .. presence.Slots.SelectMany(s => s.Files)
                .SelectMany(
                    f => new[] { ("slots.files.name", f.Name, MaxName), ("slots.files.text", f.Text, MaxName),
                        ("slots.files.unreadable", f.Unreadable, MaxText) }),
            .. presence.Finished.SelectMany(
                f => new[] { ("finished.schedule_id", f.ScheduleId, MaxName), ("finished.text", f.Text, MaxText),
                    ("finished.step", f.Step, MaxName) }),
            .. presence.Preflight.SelectMany(
                p => new[] { ("preflight.schedule_id", p.ScheduleId, MaxName), ("preflight.identity", p.Identity, MaxName) }),
            .. presence.Preflight.SelectMany(p => p.Obstacles)
                .SelectMany(o => new[] { ("preflight.obstacles.id", o.Id, MaxName), ("preflight.obstacles.text", o.Text, MaxText) }),
        ];

    private static string? Excess(IEnumerable<(string Field, int Has, int Limit, string What)> parts) =>
        parts.Where(p => p.Has > p.Limit).Select(p => Sentence(p.Field, p.Has, p.Limit, p.What)).FirstOrDefault();

    private static string Sentence(string field, int has, int limit, string what) =>
        string.Create(CultureInfo.InvariantCulture, $"The presence's {field} has {has} {what}; at most {limit} are allowed.");
}
