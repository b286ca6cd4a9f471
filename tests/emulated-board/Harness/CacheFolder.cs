using System.Security.Cryptography;

namespace Cardassay.EmulatedBoard.Harness;

/// <summary>
/// Keeps what is expensive to make between test runs, outside the repository: in `$CARDASSAY_CACHE`, else in
/// `~/.cache/cardassay-emulated-board`. An entry is named by a key over everything it is made from, and appears whole or not
/// at all, also when several test runs want it at once. Deleting the folder is always safe between runs.
/// </summary>
public static class CacheFolder
{
    private static readonly TimeSpan KeptUnused = TimeSpan.FromDays(7);

    private static string Root => Environment.GetEnvironmentVariable("CARDASSAY_CACHE") is { Length: > 0 } chosen
        ? chosen
        : Path.Combine(Environment.GetFolderPath(Environment.SpecialFolder.UserProfile), ".cache", "cardassay-emulated-board");

    /// <summary>The folder of an entry; <paramref name="make"/> fills it when it is not there yet.</summary>
    public static async Task<string> ObtainAsync(string name, string key, Func<string, Task> make)
    {
        Directory.CreateDirectory(Root);
        string folder = Path.Combine(Root, $"{name}-{key}");
        await using FileStream held = await LockAsync(Path.Combine(Root, $"{name}.lock"));
        if (!Directory.Exists(folder))
        {
            string partial = folder + ".partial";
            if (Directory.Exists(partial))
            {
                Directory.Delete(partial, recursive: true);
            }

            Directory.CreateDirectory(partial);
            await make(partial);
            Directory.Move(partial, folder);
        }

        DateTime now = TimeProvider.System.GetUtcNow().UtcDateTime;
        Directory.SetLastWriteTimeUtc(folder, now);
        foreach (string other in Directory.GetDirectories(Root, $"{name}-*").Where(d => now - Directory.GetLastWriteTimeUtc(d) > KeptUnused))
        {
            Directory.Delete(other, recursive: true);
        }

        return folder;
    }

    /// <summary>A key over the names and contents of files.</summary>
    public static string KeyOf(params IEnumerable<string> files)
    {
        using IncrementalHash hash = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
        foreach (string file in files.Order(StringComparer.Ordinal))
        {
            hash.AppendData(System.Text.Encoding.UTF8.GetBytes($"{Path.GetRelativePath(Repository.Folder, file)}\n"));
            hash.AppendData(SHA256.HashData(File.ReadAllBytes(file)));
        }

        return Convert.ToHexStringLower(hash.GetHashAndReset())[..16];
    }

    // The lock is the file's, not this process's: two test runs on one machine wait for each other.
    private static async Task<FileStream> LockAsync(string path)
    {
        using CancellationTokenSource late = new(Hang.Limit);
        while (true)
        {
            try
            {
                return new FileStream(path, FileMode.OpenOrCreate, FileAccess.ReadWrite, FileShare.None);
            }
            catch (IOException) when (!late.IsCancellationRequested)
            {
                await Task.Delay(200, CancellationToken.None);
            }
        }
    }
}
