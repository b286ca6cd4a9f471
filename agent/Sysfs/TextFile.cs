using System.Globalization;
using System.Text;
using Cardassay.Agent.BlockIo;
using Cardassay.Registers;

namespace Cardassay.Agent.Sysfs;

/// <summary>Reads the small text files of a <see cref="SysfsTree"/>.</summary>
public static class TextFile
{
    /// <summary>Longest register file read, bytes. The kernel itself never shows more than a page (4 to 64 KiB) in a sysfs file.</summary>
    public const int LimitBytes = 64 * 1024;

    /// <summary>Longest process table read (`mountinfo`, `swaps`), bytes: a container host may have thousands of mounts.</summary>
    public const int TableLimitBytes = 4 * 1024 * 1024;

    /// <summary>
    /// The text of a file with its one final newline removed. Printable ASCII stands for itself; every other byte, and the
    /// backslash, is written `\xNN`: a card may put any bytes into its `name`, and they must survive a journal, a terminal
    /// and a page without doing anything there. <see cref="Reading{T}.State"/> keeps missing, unreadable and empty apart.
    /// </summary>
    public static Reading<string> Read(SysfsTree tree, string inside) => Map(BoundedRead.Read(tree.PathOf(inside), LimitBytes), Printable);

    /// <summary>The text of a file that holds paths or several lines, as UTF-8, unescaped.</summary>
    public static Reading<string> ReadTable(SysfsTree tree, string inside) =>
        Map(BoundedRead.Read(tree.PathOf(inside), TableLimitBytes), Encoding.UTF8.GetString);

    /// <summary>A file that holds one decimal number; anything else is unreadable.</summary>
    public static Reading<long> ReadNumber(SysfsTree tree, string inside)
    {
        Reading<string> text = Read(tree, inside);
        return text.State switch
        {
            ReadingState.Absent => Reading<long>.Absent(),
            ReadingState.Unreadable => Reading<long>.Unreadable(text.Reason!),
            _ => ParseNumber(text.Value!),
        };
    }

    internal static Reading<long> ParseNumber(string text) =>
        long.TryParse(text.AsSpan().Trim(), NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out long value)
            ? Reading<long>.Known(value)
            : Reading<long>.Unreadable($"\"{(text.Length <= 40 ? text : text[..40] + "...")}\" is not a number");

    internal static string Printable(byte[] bytes)
    {
        ReadOnlySpan<byte> content = bytes;
        if (content is [.., (byte)'\n'])
        {
            content = content[..^1];
        }

        var text = new StringBuilder(content.Length);
        foreach (byte b in content)
        {
            // Registers are one line, but several sysfs files are not: newline and tab are kept.
            if (b is (>= 0x20 and < 0x7F and not (byte)'\\') or (byte)'\n' or (byte)'\t')
            {
                text.Append((char)b);
            }
            else
            {
                text.Append("\\x").Append(b.ToString("x2", CultureInfo.InvariantCulture));
            }
        }

        return text.ToString();
    }

    private static Reading<string> Map(Reading<byte[]> bytes, Func<byte[], string> decode) => bytes.State switch
    {
        ReadingState.Absent => Reading<string>.Absent(),
        ReadingState.Unreadable => Reading<string>.Unreadable(bytes.Reason!),
        _ => Reading<string>.Known(decode(bytes.Value!)),
    };
}
