using Cardassay.Agent.Sysfs;
using Cardassay.Registers;

namespace Cardassay.Agent.Conditions;

/// <summary>
/// Reads debugfs itself. Only these two files: both print what the host driver remembers, while `status` and `ext_csd` beside
/// them send a command to the card (Linux, drivers/mmc/core/debugfs.c).
/// </summary>
public sealed class DebugBusFiles(SysfsTree tree) : IBusFiles
{
    /// <inheritdoc/>
    public Reading<string> Ios(string host) => TextFile.Read(tree, $"sys/kernel/debug/{host}/ios");

    /// <inheritdoc/>
    public Reading<string> ErrorStatistics(string host) => TextFile.Read(tree, $"sys/kernel/debug/{host}/err_stats");
}
