using Cardassay.EmulatedBoard.Harness;

namespace Cardassay.Packages.Tests;

/// <summary>The packages, made by the documented command once per state of the sources.</summary>
internal static class BuiltPackages
{
    private static readonly Lazy<Task<string>> Once = new(BuildAsync);

    internal static async Task<string> AgentAsync(string architecture) => await FindAsync($"cardassay-agent_*_{architecture}.deb");

    internal static async Task<string> CollectorAsync(string architecture = "amd64") => await FindAsync($"cardassay-collector_*_{architecture}.deb");

    /// <summary>A copy of a package with another version, and changed as wanted.</summary>
    /// <param name="package">The package's file.</param>
    /// <param name="version">Its new version.</param>
    /// <param name="change">Given the folder with its files and the folder DEBIAN.</param>
    internal static async Task<string> CopyAsync(string package, string version, Action<string>? change = null)
    {
        string tree = WorkFolder.NewPath("package");
        (await Ran.ItAsync("dpkg-deb", "-R", package, tree)).Expect(0);
        string control = Path.Combine(tree, "DEBIAN", "control");
        File.WriteAllLines(control, File.ReadAllLines(control).Select(l => l.StartsWith("Version: ", StringComparison.Ordinal) ? $"Version: {version}" : l));
        change?.Invoke(tree);
        string made = WorkFolder.NewPath("copy.deb");
        (await Ran.ItAsync("dpkg-deb", "--root-owner-group", "-Znone", "--build", tree, made)).Expect(0);
        Directory.Delete(tree, recursive: true);
        return made;
    }

    private static async Task<string> FindAsync(string pattern) => Directory.GetFiles(await Once.Value, pattern).Single();

    private static async Task<string> BuildAsync()
    {
        Tools.RequirePublishing();
        string agents = Path.Combine(WorkFolder.Path, "agents");
        foreach (string rid in new[] { "linux-x64", "linux-arm64" })
        {
            string published = await PublishedAgent.ObtainAsync(rid);
            Directory.CreateDirectory(Path.Combine(agents, rid));
            File.CreateSymbolicLink(Path.Combine(agents, rid, "cardassay-agent"), published);
        }

        string build = Repository.At("deploy", "packages", "build");
        string[] sources =
        [
            Repository.At("LICENSE"),
            .. Directory.GetFiles(Repository.Folder, "Directory.*.props"),
            .. new[] { "agent", "collector", "shared-core", "proto", "deploy" }.SelectMany(SourcesOf),
        ];
        return await CacheFolder.ObtainAsync("packages", CacheFolder.KeyOf(sources), async partial =>
        {
            await HostCommand.RunAsync(build, "--output", partial, "--agents", agents);
            foreach (string folder in Directory.GetDirectories(partial))
            {
                Directory.Delete(folder, recursive: true);
            }
        });
    }

    private static IEnumerable<string> SourcesOf(string room) =>
        Directory.EnumerateFiles(Repository.At(room), "*", SearchOption.AllDirectories)
            .Where(file => !file.Contains("/bin/", StringComparison.Ordinal) && !file.Contains("/obj/", StringComparison.Ordinal)
                && !file.EndsWith(".md", StringComparison.Ordinal)); // no package holds one
}
