using System.Diagnostics;
using System.Runtime.CompilerServices;

namespace Cardassay.Simulation.Tests;

/// <summary>
/// Simulations compute and wait for nothing; emulated boards, which `dotnet test` runs beside them, take thousands of turns a second and were seventy times
/// slower when they had to wait for each. A lower priority costs the simulations nothing that is theirs.
/// </summary>
internal static class LowPriority
{
    [ModuleInitializer]
    internal static void Set()
    {
        using Process own = Process.GetCurrentProcess();
        own.PriorityClass = ProcessPriorityClass.BelowNormal;
    }
}
