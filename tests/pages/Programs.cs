namespace Cardassay.Pages.Tests;

/// <summary>The built programs, in the configuration this test was built in.</summary>
internal static class Programs
{
    private static readonly string Root = FindRoot();

    internal static string Agent => Program("agent", "cardassay-agent");

    internal static string Collector => Program("collector", "cardassay-collector");

    internal static string Demo => Program("deploy/demo", "cardassay-demo");

    private static string Program(string room, string name) =>
        Path.Combine(Root, room, "bin", new DirectoryInfo(AppContext.BaseDirectory).Parent!.Name, "net10.0", name);

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
