using System.Security.Cryptography;
using System.Text;
using Cardassay.Collector.Hosting;

namespace Cardassay.Collector.Commands;

/// <summary>
/// Notes which collectors a user runs, so that a command finds the one that runs without being told its folder. One small file for each,
/// in the user's home, where nobody else can put one. A note that was left behind by a kill does no harm: nothing answers there.
/// </summary>
internal sealed class RunningCollectors : IDisposable
{
    private const int MostBytes = 8 * 1024;

    private readonly string _note;

    private RunningCollectors(string note) => _note = note;

    /// <summary>Notes a collector until disposed; null when the home folder takes no note, and then only --data finds it.</summary>
    internal static RunningCollectors? Note(string home, string dataFolder)
    {
        if (home.Length == 0)
        {
            return null;
        }

        string note = Path.Combine(FolderOf(home),
            Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(dataFolder)).AsSpan(0, 8)));
        try
        {
            Directory.CreateDirectory(FolderOf(home));
            File.WriteAllText(note, dataFolder);
            return new RunningCollectors(note);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            return null;
        }
    }

    /// <summary>The data folders noted.</summary>
    internal static IReadOnlyList<string> Of(string home)
    {
        if (home.Length == 0 || !Directory.Exists(FolderOf(home)))
        {
            return [];
        }

        var folders = new List<string>();
        try
        {
            foreach (string note in Directory.EnumerateFiles(FolderOf(home)).Order(StringComparer.Ordinal))
            {
                string folder = new FileInfo(note).Length <= MostBytes ? File.ReadAllText(note).Trim() : "";
                if (Path.IsPathFullyQualified(folder))
                {
                    folders.Add(folder);
                }
            }
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            // One that ended meanwhile took its note along.
        }

        return folders;
    }

    public void Dispose()
    {
        try
        {
            File.Delete(_note);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            // It stays, and nothing answers there.
        }
    }

    private static string FolderOf(string home) => Path.Combine(home, ".local", "state", CollectorOptions.ServiceName, "running");
}
