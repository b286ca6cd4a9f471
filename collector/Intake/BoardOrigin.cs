namespace Cardassay.Collector.Intake;

/// <summary>
/// Whose board a record came from. A board of another collector is kept as "board@collector"; no board's own name holds an
/// "@" (<see cref="Boards.BoardRegistry.CleanName"/>), so that the two parts can always be told apart.
/// </summary>
internal static class BoardOrigin
{
    /// <summary>What stands between a name and the collector it is of.</summary>
    internal const char Mark = '@';

    /// <summary>The name a store keeps.</summary>
    internal static string Join(string board, string origin) => origin.Length == 0 ? board : board + Mark + origin;

    /// <summary>Board and origin of a kept name; the origin is "" for this collector's own boards.</summary>
    internal static (string Board, string Origin) Split(string kept)
    {
        int at = kept.IndexOf(Mark, StringComparison.Ordinal);
        return at < 0 ? (kept, "") : (kept[..at], kept[(at + 1)..]);
    }

    /// <summary>
    /// What to call each board: its plain name where no board of another collector has the same, so that an export read into an
    /// empty collector reads the same; else the kept name.
    /// </summary>
    /// <param name="keptNames">The boards.</param>
    /// <param name="regarded">Whose boards count: one that was taken back takes no name from another.</param>
    internal static Func<string, string> Shown(IEnumerable<string> keptNames, CollectorsRegarded regarded)
    {
        HashSet<string> shared = [.. keptNames.Where(kept => !regarded.IsTakenBack(Split(kept).Origin)).Distinct(StringComparer.Ordinal)
            .GroupBy(kept => Split(kept).Board, StringComparer.Ordinal)
            .Where(group => group.Count() > 1)
            .Select(group => group.Key)];
        return kept => shared.Contains(Split(kept).Board) ? kept : Split(kept).Board;
    }
}
