using System.Runtime.CompilerServices;

namespace Cardassay.Agent.BlockIo;

/// <summary>
/// The pages of the program and of its libraries that lie in memory as they lie in their files. Most were used once, to start, to join or
/// to run a plan, and an agent that waits needs few of them: what is let go comes back from the page cache when it is used, and the system
/// may use it otherwise meanwhile (madvise(2), MADV_DONTNEED on a private mapping of a file).
/// </summary>
internal static class ProgramPages
{
    private const int DontNeed = 4; // MADV_DONTNEED, the same on x64 and arm64
    private const string Own = "/proc/self/smaps";

    /// <summary>Finds them. Only a native program has any: the other runtime changes pages of the files it has loaded.</summary>
    internal static List<FileMapping> Find()
    {
        try
        {
            return RuntimeFeature.IsDynamicCodeSupported ? [] : Unchanged(File.ReadAllLines(Own));
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            return []; // a system without this file keeps the pages
        }
    }

    /// <summary>Lets go what <see cref="Find"/> found, at any time later: programs and libraries stay where they are.</summary>
    internal static void LetGo(List<FileMapping> pages)
    {
        foreach (FileMapping mapping in pages)
        {
            _ = Libc.Madvise((nint)mapping.Start, (nuint)mapping.LengthBytes, DontNeed); // where it is refused, they stay
        }
    }

    /// <summary>
    /// Mappings that hold nothing but the content of a program file: private, not writable, no page of them copied on a write (pages that
    /// the loader has relocated would be lost), and of a file of which a part is executable, because only those stay mapped to the end.
    /// </summary>
    /// <param name="smaps">Lines of `/proc/PID/smaps` (proc_pid_smaps(5)).</param>
    internal static List<FileMapping> Unchanged(string[] smaps)
    {
        List<FileMapping> found = [];
        HashSet<string> programs = [];
        FileMapping? mapping = null;
        foreach (string line in smaps)
        {
            if (line.StartsWith("Anonymous:", StringComparison.Ordinal))
            {
                if (mapping is not null && line["Anonymous:".Length..].Trim() == "0 kB")
                {
                    found.Add(mapping);
                }

                mapping = null;
            }
            else if (FileMapping.Parse(line) is { } begun)
            {
                if (begun.Rights == "r-xp")
                {
                    programs.Add(begun.File);
                }

                mapping = begun.Rights is "r-xp" or "r--p" ? begun : null;
            }
        }

        found.RemoveAll(m => !programs.Contains(m.File));
        return found;
    }
}
