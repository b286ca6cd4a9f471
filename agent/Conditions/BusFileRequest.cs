namespace Cardassay.Agent.Conditions;

/// <summary>
/// What may be asked of the helper that reads debugfs as root: one of two files of one card host. Only a name that follows the kernel's
/// own pattern passes ("mmc" and a number, Linux drivers/mmc/core/host.c); nothing a caller sends is ever used as a path.
/// </summary>
/// <param name="Host">Name of the card host ("mmc0").</param>
/// <param name="File">"ios" or "err_stats".</param>
public readonly record struct BusFileRequest(string Host, string File)
{
    /// <summary>Longest request, bytes, its newline included.</summary>
    public const int MostBytes = 32;

    /// <summary>The file with what the host driver remembers of the bus.</summary>
    public const string Ios = "ios";

    /// <summary>The file with the error counters.</summary>
    public const string ErrorStatistics = "err_stats";

    private const string HostPrefix = "mmc";
    private const int MostDigits = 3;

    /// <summary>The request as one line without its newline: "ios mmc0".</summary>
    public string Line => $"{File} {Host}";

    /// <summary>Reads a line; null when it asks for anything else.</summary>
    public static BusFileRequest? Parse(string line)
    {
        string[] words = line.Split(' ');
        return words is [Ios or ErrorStatistics, var host] && IsHost(host) ? new BusFileRequest(host, words[0]) : null;
    }

    /// <summary>True for a name the kernel gives a card host.</summary>
    public static bool IsHost(string name) =>
        name.StartsWith(HostPrefix, StringComparison.Ordinal)
        && name.Length > HostPrefix.Length && name.Length <= HostPrefix.Length + MostDigits
        && name.AsSpan(HostPrefix.Length).IndexOfAnyExceptInRange('0', '9') < 0;
}
