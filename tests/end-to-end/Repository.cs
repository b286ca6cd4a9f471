namespace Cardassay.EndToEnd.Tests;

/// <summary>Where the checkout and the built programs are.</summary>
internal static class Repository
{
    internal static string Root { get; } = FindRoot();

    internal static string Agent => Program("agent", "cardassay-agent");

    internal static string Collector => Program("collector", "cardassay-collector");

    internal static string Demo => Program("deploy/demo", "cardassay-demo");

    private static string Program(string room, string name)
    {
        // The configuration this test was built in: .../bin/<configuration>/net10.0/
        string configuration = new DirectoryInfo(AppContext.BaseDirectory).Parent!.Name;
        return Path.Combine(Root, room, "bin", configuration, "net10.0", name);
    }

    private static string FindRoot()
    {
        for (DirectoryInfo? folder = new(AppContext.BaseDirectory); folder is not null; folder = folder.Parent)
        {
            if (File.Exists(Path.Combine(folder.FullName, "Cardassay.slnx")))
            {
                return folder.FullName;
            }
        }

        throw new InvalidOperationException("Cardassay.slnx was not found above the test's folder.");
    }
}
