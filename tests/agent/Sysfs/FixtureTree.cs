using System.Text;
using Cardassay.Agent.Sysfs;

namespace Cardassay.Agent.Tests.Sysfs;

/// <summary>
/// A made-up `sys`, `proc` and `dev` in a temporary folder, from a text file of tests/fixtures/sysfs or built in code.
/// File format: lines beginning with '#' before the first entry are remarks; an entry is `=== PATH`, followed by the lines of the
/// file; `=== PATH link TARGET` is a symbolic link, `=== PATH hex` a file given in hex digits, `=== PATH unreadable` a file
/// that cannot be read (a folder in its place: mode bits do not stop root).
/// </summary>
internal sealed class FixtureTree : IDisposable
{
    private readonly DirectoryInfo _folder = Directory.CreateTempSubdirectory("cardassay-tree-");

    /// <summary>The folder.</summary>
    public string Root => _folder.FullName;

    /// <summary>The folder as the agent sees it.</summary>
    public SysfsTree Tree => new(Root);

    /// <summary>Folder of the fixture files in the repository.</summary>
    public static string FixtureFolder
    {
        get
        {
            DirectoryInfo? folder = new(AppContext.BaseDirectory);
            while (folder is not null && !File.Exists(Path.Combine(folder.FullName, "Cardassay.slnx")))
            {
                folder = folder.Parent;
            }

            return Path.Combine(folder!.FullName, "tests", "fixtures", "sysfs");
        }
    }

    /// <summary>Expands "NAME.txt" of the fixture folder.</summary>
    public static FixtureTree Expand(string name)
    {
        var tree = new FixtureTree();
        (string Path, string Kind)? entry = null;
        var content = new StringBuilder();
        foreach (string line in File.ReadAllLines(Path.Combine(FixtureFolder, name + ".txt")).Append("=== end"))
        {
            if (!line.StartsWith("=== ", StringComparison.Ordinal))
            {
                content.Append(line).Append('\n');
                continue;
            }

            if (entry is { } done)
            {
                tree.Place(done.Path, done.Kind, content.ToString());
            }

            content.Clear();
            string[] words = line[4..].Split(' ', 2);
            entry = (words[0], words.Length > 1 ? words[1] : "");
        }

        return tree;
    }

    /// <summary>Writes a text file with a final newline, as the kernel shows one.</summary>
    public FixtureTree Text(string path, string text) => Bytes(path, Encoding.Latin1.GetBytes(text + "\n"));

    /// <summary>Writes a file of any bytes.</summary>
    public FixtureTree Bytes(string path, byte[] bytes)
    {
        string full = Path.Combine(Root, path);
        Directory.CreateDirectory(Path.GetDirectoryName(full)!);
        File.WriteAllBytes(full, bytes);
        return this;
    }

    /// <summary>Makes a link.</summary>
    public FixtureTree Link(string path, string target)
    {
        string full = Path.Combine(Root, path);
        Directory.CreateDirectory(Path.GetDirectoryName(full)!);
        File.CreateSymbolicLink(full, target);
        return this;
    }

    /// <summary>Removes a file or folder.</summary>
    public FixtureTree Remove(string path)
    {
        string full = Path.Combine(Root, path);
        if (Directory.Exists(full) && new FileInfo(full).LinkTarget is null)
        {
            Directory.Delete(full, recursive: true);
        }
        else
        {
            File.Delete(full);
        }

        return this;
    }

    public void Dispose() => _folder.Delete(recursive: true);

    private void Place(string path, string kind, string content)
    {
        switch (kind.Split(' ')[0])
        {
            case "link":
                Link(path, kind["link ".Length..]);
                break;
            case "hex":
                Bytes(path, Convert.FromHexString(content.ReplaceLineEndings("")));
                break;
            case "unreadable":
                Directory.CreateDirectory(Path.Combine(Root, path));
                break;
            case "":
                Bytes(path, Encoding.UTF8.GetBytes(content));
                break;
            default:
                throw new InvalidDataException($"{path}: unknown kind {kind}");
        }
    }
}
