namespace Cardassay.EmulatedBoard.Harness;

/// <summary>The native agent, published by the documented command once per state of the sources.</summary>
public static class PublishedAgent
{
    private const string Rid = "linux-arm64";
    private static readonly Lazy<Task<string>> Once = new(PublishAsync);

    /// <summary>Path of the arm64 agent.</summary>
    public static Task<string> ObtainAsync() => Once.Value;

    private static async Task<string> PublishAsync()
    {
        string publish = Repository.At("deploy", "agent", "publish");
        string[] sources =
        [
            publish,
            .. Directory.GetFiles(Repository.Folder, "Directory.*.props"),
            .. new[] { "agent", "shared-core", "proto" }.SelectMany(SourcesOf),
        ];
        string folder = await CacheFolder.ObtainAsync("agent", CacheFolder.KeyOf(sources), async partial =>
        {
            await HostCommand.RunAsync(TimeSpan.FromMinutes(8), publish, "--output", partial, Rid);
            Directory.Delete(Path.Combine(partial, "objects"), recursive: true);
        });
        return Path.Combine(folder, Rid, "cardassay-agent");
    }

    private static IEnumerable<string> SourcesOf(string room) =>
        Directory.EnumerateFiles(Repository.At(room), "*", SearchOption.AllDirectories)
            .Where(file => !file.Contains("/bin/", StringComparison.Ordinal) && !file.Contains("/obj/", StringComparison.Ordinal));
}
