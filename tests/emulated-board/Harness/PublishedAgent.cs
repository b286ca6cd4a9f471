using System.Collections.Concurrent;

namespace Cardassay.EmulatedBoard.Harness;

/// <summary>The native agent, published by the documented command once per state of the sources.</summary>
public static class PublishedAgent
{
    private const string BoardRid = "linux-arm64";
    private static readonly ConcurrentDictionary<string, Lazy<Task<string>>> Once = [];

    /// <summary>Path of the agent.</summary>
    /// <param name="rid">"linux-arm64" or "linux-x64".</param>
    public static Task<string> ObtainAsync(string rid = BoardRid) => Once.GetOrAdd(rid, r => new Lazy<Task<string>>(() => PublishAsync(r))).Value;

    private static async Task<string> PublishAsync(string rid)
    {
        string publish = Repository.At("deploy", "agent", "publish");
        string[] sources =
        [
            publish,
            .. Directory.GetFiles(Repository.Folder, "Directory.*.props"),
            .. new[] { "agent", "shared-core", "proto" }.SelectMany(SourcesOf),
        ];
        string folder = await CacheFolder.ObtainAsync($"agent-{rid}", CacheFolder.KeyOf(sources), async partial =>
        {
            await HostCommand.RunAsync(publish, "--output", partial, rid);
            Directory.Delete(Path.Combine(partial, "objects"), recursive: true);
        });
        return Path.Combine(folder, rid, "cardassay-agent");
    }

    private static IEnumerable<string> SourcesOf(string room) =>
        Directory.EnumerateFiles(Repository.At(room), "*", SearchOption.AllDirectories)
            .Where(file => !file.Contains("/bin/", StringComparison.Ordinal) && !file.Contains("/obj/", StringComparison.Ordinal));
}
