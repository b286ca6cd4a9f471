namespace Cardassay.Collector.Hosting;

/// <summary>A command cannot go on. The message is one sentence for a person that says what to do.</summary>
internal sealed class CommandException(string message, int exitCode = 1) : Exception(message)
{
    /// <summary>1 for a failure or finding, 2 for bad usage.</summary>
    internal int ExitCode { get; } = exitCode;
}
