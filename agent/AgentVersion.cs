using System.Reflection;

namespace Cardassay.Agent;

/// <summary>Version of this build.</summary>
internal static class AgentVersion
{
    /// <summary>"0.1.0".</summary>
    internal static string Text { get; } = typeof(AgentVersion).Assembly.GetName().Version?.ToString(3) ?? "0.0.0";
}
