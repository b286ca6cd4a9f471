using Cardassay.Agent.BlockIo;
using Cardassay.Registers;

namespace Cardassay.Agent.Sysfs;

/// <summary>
/// Where questions about the machine are answered: a folder that holds `sys`, `proc`, `dev` and perhaps `run`. That is `/`
/// on a board, the place where the host is mounted in a container, and a made-up tree in a test. What the folder lacks is
/// absent: nothing is silently taken from the real machine instead. (A tree may hold links, `dev -> /dev`, to say so.)
/// Folder targets and the journal are not part of it: they lie where this process sees them.
/// </summary>
public sealed class SysfsTree
{
    /// <summary>Opens a tree; nothing is read yet.</summary>
    /// <param name="root">Folder that holds `sys`, `proc` and `dev`.</param>
    public SysfsTree(string root = "/") => Root = Path.TrimEndingDirectorySeparator(Path.GetFullPath(root));

    /// <summary>The folder, as an absolute path.</summary>
    public string Root { get; }

    /// <summary>The path to open for a path inside the tree ("sys/block/mmcblk0/size").</summary>
    public string PathOf(string inside) => Path.Join(Root, inside);

    /// <summary>Whether something is there, links followed.</summary>
    public bool Exists(string inside) => PathProbe.Of(PathOf(inside)).Kind != PathKind.Nothing;

    /// <summary>Names in a folder, in ordinal order; absent when there is no such folder.</summary>
    public Reading<IReadOnlyList<string>> List(string inside)
    {
        string folder = PathOf(inside);
        if (PathProbe.Of(folder).Kind != PathKind.Folder)
        {
            return Reading<IReadOnlyList<string>>.Absent();
        }

        try
        {
            string[] names = [.. Directory.EnumerateFileSystemEntries(folder).Select(p => Path.GetFileName(p))];
            Array.Sort(names, StringComparer.Ordinal);
            return Reading<IReadOnlyList<string>>.Known(names);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            return Reading<IReadOnlyList<string>>.Unreadable(e.Message);
        }
    }

    /// <summary>Names in a folder; none when it is absent or unreadable and the difference does not matter.</summary>
    public IReadOnlyList<string> Names(string inside) => List(inside).Value ?? [];

    /// <summary>
    /// The path inside the tree with every link resolved, or null when it leads nowhere. Absolute links start at the tree's
    /// root again, as they would on the machine the tree describes; the top folders themselves may be links out of it.
    /// </summary>
    public string? RealPath(string inside)
    {
        if (inside.Contains('\0'))
        {
            return null;
        }

        var pending = new Stack<string>();
        Push(pending, inside);
        var done = new List<string>();
        for (int links = 0; pending.TryPop(out string? name);)
        {
            if (name == "..")
            {
                if (done.Count > 0)
                {
                    done.RemoveAt(done.Count - 1);
                }

                continue;
            }

            done.Add(name);
            string here = string.Join('/', done);
            string? link = done.Count == 1 ? null : new FileInfo(PathOf(here)).LinkTarget;
            if (link is null)
            {
                continue;
            }

            // 40 is the kernel's own limit (MAXSYMLINKS, include/linux/namei.h).
            if (++links > 40)
            {
                return null;
            }

            done.RemoveAt(done.Count - 1);
            if (link.StartsWith('/'))
            {
                done.Clear();
            }

            Push(pending, link);
        }

        string result = string.Join('/', done);
        return Exists(result) ? result : null;
    }

    private static void Push(Stack<string> pending, string path)
    {
        string[] names = path.Split('/', StringSplitOptions.RemoveEmptyEntries);
        for (int i = names.Length - 1; i >= 0; i--)
        {
            if (names[i] != ".")
            {
                pending.Push(names[i]);
            }
        }
    }
}
