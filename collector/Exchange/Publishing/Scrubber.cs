using System.Text.RegularExpressions;

namespace Cardassay.Collector.Exchange.Publishing;

/// <summary>
/// Takes names and paths out of sentences a board or a person wrote. Known names (hosts, boards, targets and the folders they
/// lie in) go wherever they stand; besides, anything that looks like an absolute path outside /sys, /proc and /dev.
/// </summary>
internal sealed partial class Scrubber
{
    /// <summary>Shorter names would tear ordinary words apart ("sd", "a").</summary>
    private const int ShortestName = 3;

    private static readonly HashSet<string> PlainFolders = new(StringComparer.OrdinalIgnoreCase)
    {
        "home", "media", "mnt", "run", "root", "tmp", "var", "dev", "sys", "proc", "card", "cards", "scratch", "srv", "usr", "data", "block",
    };

    private readonly List<(string Secret, string Instead)> _known = [];

    /// <summary>Adds a name that must not appear.</summary>
    internal void AddName(string name, string instead)
    {
        if (name.Length >= ShortestName && !PlainFolders.Contains(name) && name != instead)
        {
            _known.Add((name, instead));
        }
    }

    /// <summary>Adds a path and the folders it goes through, which often hold the name of a user.</summary>
    internal void AddPath(string path)
    {
        if (path.StartsWith("/dev/", StringComparison.Ordinal))
        {
            return;
        }

        AddName(path, "(path)");
        foreach (string folder in path.Split('/', StringSplitOptions.RemoveEmptyEntries))
        {
            AddName(folder, "(name)");
        }
    }

    /// <summary>Sorts what was added; longest first, so that no part of a longer one stays.</summary>
    internal void Close()
    {
        List<(string, string)> known = [.. _known.Distinct().OrderByDescending(k => k.Secret.Length).ThenBy(k => k.Secret, StringComparer.Ordinal)];
        _known.Clear();
        _known.AddRange(known);
    }

    /// <summary>The sentence without them.</summary>
    internal string Clean(string text)
    {
        foreach ((string secret, string instead) in _known)
        {
            text = Regex.Replace(
                text, $@"(?<![\p{{L}}\p{{N}}]){Regex.Escape(secret)}(?![\p{{L}}\p{{N}}])", instead.Replace("$", "$$", StringComparison.Ordinal), RegexOptions.IgnoreCase);
        }

        return AbsolutePath().Replace(text, "(path)");
    }

    [GeneratedRegex("""(?<![\w/.])/(?!(?:sys|proc|dev)/)[^\s"',;:()]*[\w][^\s"',;:()]*""")]
    private static partial Regex AbsolutePath();
}
