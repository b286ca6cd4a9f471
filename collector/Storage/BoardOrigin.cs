namespace Cardassay.Collector.Storage;

/// <summary>
/// Whose board a record came from. A board of another collector is kept as "board@collector"; no board's own name holds an
/// "@" (<see cref="BoardNames.Clean"/>), so that the two parts can always be told apart.
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
}
