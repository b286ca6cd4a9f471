using Cardassay.Agent.Tests.Sysfs;

namespace Cardassay.Agent.Tests.Commands;

/// <summary>
/// Outputs kept in tests/fixtures/identify. `CARDASSAY_UPDATE_GOLDEN=1 dotnet test tests/agent` rewrites them; the difference is then
/// reviewed like code.
/// </summary>
internal static class Golden
{
    internal static void Check(string fileName, string actual)
    {
        string path = Path.Combine(FixtureTree.FixtureFolder, "..", "identify", fileName);
        if (Environment.GetEnvironmentVariable("CARDASSAY_UPDATE_GOLDEN") == "1")
        {
            Directory.CreateDirectory(Path.GetDirectoryName(path)!);
            File.WriteAllText(path, actual);
        }

        Assert.Equal(File.ReadAllText(path), actual);
    }
}
