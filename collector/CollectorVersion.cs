using System.Reflection;

namespace Cardassay.Collector;

/// <summary>Version of this build.</summary>
internal static class CollectorVersion
{
    /// <summary>"0.1.0".</summary>
    internal static string Text { get; } = typeof(CollectorVersion).Assembly.GetName().Version?.ToString(3) ?? "0.0.0";
}
