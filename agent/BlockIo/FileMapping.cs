using System.Globalization;

namespace Cardassay.Agent.BlockIo;

/// <summary>One mapping of a file into this process.</summary>
/// <param name="start">Where it begins.</param>
/// <param name="lengthBytes">Bytes, above 0.</param>
/// <param name="rights">Four letters: "r-xp" is readable, executable, private.</param>
/// <param name="file">The file's path.</param>
internal sealed class FileMapping(ulong start, ulong lengthBytes, string rights, string file)
{
    internal ulong Start => start;

    internal ulong LengthBytes => lengthBytes;

    internal string Rights => rights;

    internal string File => file;

    /// <summary>
    /// The mapping a line of `/proc/PID/smaps` begins: "FIRST-END RIGHTS OFFSET DEVICE INODE /FILE"
    /// (proc_pid_maps(5)); null for any other line.
    /// </summary>
    internal static FileMapping? Parse(string line)
    {
        int path = line.IndexOf('/');
        string[] fields = path < 0 ? [] : line[..path].Split(' ', StringSplitOptions.RemoveEmptyEntries);
        int dash = fields.Length == 5 ? fields[0].IndexOf('-') : -1;
        return dash > 0 && fields[1].Length == 4
            && ulong.TryParse(fields[0].AsSpan(0, dash), NumberStyles.AllowHexSpecifier, CultureInfo.InvariantCulture, out ulong first)
            && ulong.TryParse(fields[0].AsSpan(dash + 1), NumberStyles.AllowHexSpecifier, CultureInfo.InvariantCulture, out ulong end)
            && end > first
            ? new FileMapping(first, end - first, fields[1], line[path..])
            : null;
    }
}
