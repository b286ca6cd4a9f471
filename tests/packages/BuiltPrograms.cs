using System.Reflection;

namespace Cardassay.Packages.Tests;

/// <summary>Programs of the ordinary build; started with `dotnet` from their own folders.</summary>
internal static class BuiltPrograms
{
    internal static string Agent { get; } =
        typeof(BuiltPrograms).Assembly.GetCustomAttributes<AssemblyMetadataAttribute>().Single(a => a.Key == "AgentFile").Value!;
}
