using System.Runtime.CompilerServices;

namespace Cardassay.Collector.Tests.Report;

/// <summary>
/// Compares a rendering with the file kept in tests/fixtures/report. `CARDASSAY_UPDATE_GOLDEN=1 dotnet test tests/collector`
/// writes the files anew; what changed is then reviewed like code.
/// </summary>
internal static class Golden
{
    public static void Matches(string name, string actual, [CallerFilePath] string here = "")
    {
        string path = Path.Combine(Path.GetDirectoryName(here)!, "..", "..", "fixtures", "report", name);
        if (Environment.GetEnvironmentVariable("CARDASSAY_UPDATE_GOLDEN") == "1")
        {
            File.WriteAllText(path, actual);
            return;
        }

        Assert.True(File.Exists(path), $"{path} is missing; CARDASSAY_UPDATE_GOLDEN=1 writes it.");
        Assert.Equal(File.ReadAllText(path), actual);
    }
}
