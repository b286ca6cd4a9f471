using Cardassay.Registers;

namespace Cardassay.Agent.Conditions;

/// <summary>
/// Gives the text of the two debugfs files of a card host, which only root may read: directly, or through whoever is allowed to.
/// </summary>
public interface IBusFiles
{
    /// <summary>Text of `/sys/kernel/debug/HOST/ios`.</summary>
    Reading<string> Ios(string host);

    /// <summary>Text of `/sys/kernel/debug/HOST/err_stats` (Linux 6.0).</summary>
    Reading<string> ErrorStatistics(string host);
}
