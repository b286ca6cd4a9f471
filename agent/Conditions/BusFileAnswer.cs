using System.Text;
using Cardassay.Registers;

namespace Cardassay.Agent.Conditions;

/// <summary>
/// The helper's answer: a first line with the state, then the text. "known", "absent", "unreadable", and "refused" for a request that is
/// none. The end of the connection ends the answer.
/// </summary>
internal static class BusFileAnswer
{
    /// <summary>Longest answer a client takes, bytes: a page of the kernel and the first line.</summary>
    public const int MostBytes = Sysfs.TextFile.LimitBytes + 64;

    public static byte[] Of(Reading<string> reading) => Encoding.ASCII.GetBytes(reading.State switch
    {
        ReadingState.Known => "known\n" + reading.Value,
        ReadingState.Absent => "absent\n",
        _ => "unreadable\n" + reading.Reason,
    });

    public static byte[] Refused { get; } = Encoding.ASCII.GetBytes("refused\nonly \"ios mmcN\" and \"err_stats mmcN\" can be asked\n");

    /// <summary>Takes an answer apart; anything unexpected is unreadable.</summary>
    public static Reading<string> Parse(ReadOnlySpan<byte> bytes)
    {
        string text = Encoding.ASCII.GetString(bytes);
        int end = text.IndexOf('\n', StringComparison.Ordinal);
        string rest = end < 0 ? "" : text[(end + 1)..];
        return (end < 0 ? text : text[..end]) switch
        {
            "known" => Reading<string>.Known(rest),
            "absent" => Reading<string>.Absent(),
            "unreadable" => Reading<string>.Unreadable(rest),
            "refused" => Reading<string>.Unreadable("the helper for debugfs refused: " + rest.Trim()),
            _ => Reading<string>.Unreadable("the helper for debugfs gave no answer"),
        };
    }
}
