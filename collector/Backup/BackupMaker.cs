using System.Globalization;
using Cardassay.Journal;

namespace Cardassay.Collector.Backup;

/// <summary>
/// Makes a copy of everything that cannot be made again (intake log and authority) while the collector goes on, opens the copy and
/// compares what it holds. Under its final name a copy is always whole and checked.
/// </summary>
internal static class BackupMaker
{
    /// <summary>Begins the name of a backup's folder.</summary>
    internal const string NameBegin = "cardassay-backup-";

    private const string Unfinished = ".part";

    /// <param name="log">The intake log.</param>
    /// <param name="dataFolder">The collector's data folder.</param>
    /// <param name="authorityFile">The authority, left out when there is none yet.</param>
    /// <param name="target">An existing folder outside the data folder.</param>
    /// <param name="now">The collector's clock.</param>
    /// <exception cref="BackupException">Why not, and what to do.</exception>
    internal static BackupMade Make(RecordLog log, string dataFolder, string authorityFile, string target, DateTimeOffset now)
    {
        CheckTarget(dataFolder, target);
        string name = NameBegin + now.UtcDateTime.ToString("yyyy-MM-dd'T'HH-mm-ss'Z'", CultureInfo.InvariantCulture);
        string final = Path.Combine(target, name);
        string part = final + Unfinished;
        if (Path.Exists(final) || Path.Exists(part))
        {
            throw new BackupException($"{final} exists already, and nothing is overwritten: try again in a second.");
        }

        try
        {
            FileCopy.MakeFolder(part);
            FileCopy.MakeFolder(Path.Combine(part, "intake"));
            log.Flush();
            (IReadOnlyList<(string File, long? Bytes)> segments, IReadOnlyList<(LogEpoch, long, long)> epochs) = log.Snapshot();
            var files = new List<BackupFile>();
            foreach ((string file, long? bytes) in segments)
            {
                (long copied, string hash) = FileCopy.Copy(Path.Combine(dataFolder, "intake", file), Path.Combine(part, "intake", file), bytes);
                files.Add(new BackupFile("intake/" + file, copied, hash));
            }

            if (File.Exists(authorityFile))
            {
                FileCopy.MakeFolder(Path.Combine(part, "authority"));
                (long copied, string hash) = FileCopy.Copy(authorityFile, Path.Combine(part, "authority", "authority.pem"), null);
                files.Add(new BackupFile("authority/authority.pem", copied, hash));
            }

            LogContent mine = LogContent.Of(log, epochs);
            LogContent copy = FileCopy.ReadLog(Path.Combine(part, "intake"));
            if (mine != copy)
            {
                throw new BackupException(string.Create(CultureInfo.InvariantCulture,
                    $"The copy in {target} holds {copy.Entries} entries and the log {mine.Entries}, or their contents differ: the copy was thrown away; check that disk."));
            }

            PrivateFile.Write(Path.Combine(part, BackupManifest.FileName), new BackupManifest
            {
                Version = BackupManifest.CurrentVersion,
                MadeAt = now,
                Collector = CollectorVersion.Text,
                Entries = mine.Entries,
                ContentSha256 = mine.Sha256,
                Files = files,
            }.ToJson());
            Directory.Move(part, final);
            return new BackupMade(final, mine.Entries, files.Sum(f => f.Bytes));
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new BackupException($"No copy could be made in {target}: {e.Message.TrimEnd('.')}. Is there room, and may this user write there?", e);
        }
        finally
        {
            TryDelete(part);
        }
    }

    /// <summary>Deletes the oldest backups beyond a number; only folders that a backup made and that have a manifest.</summary>
    internal static void KeepNewest(string target, int keep)
    {
        foreach (string old in Directory.EnumerateDirectories(target, NameBegin + "*")
            .Where(folder => !folder.EndsWith(Unfinished, StringComparison.Ordinal)
                && new DirectoryInfo(folder).LinkTarget is null && File.Exists(Path.Combine(folder, BackupManifest.FileName)))
            .OrderDescending(StringComparer.Ordinal).Skip(keep).ToList())
        {
            TryDelete(old);
        }
    }

    /// <exception cref="BackupException">The folder is not there, or inside the data folder.</exception>
    internal static void CheckTarget(string dataFolder, string target)
    {
        if (!Directory.Exists(target))
        {
            throw new BackupException($"The folder {target} is not there: make it first, or mount the share it is on (the installed service sees no home folders).");
        }

        string inside = Path.GetRelativePath(Path.GetFullPath(dataFolder), Path.GetFullPath(target));
        if (!inside.StartsWith("..", StringComparison.Ordinal) && !Path.IsPathRooted(inside))
        {
            throw new BackupException($"{target} lies in the data folder itself: what happens to one happens to the other; choose a folder on another disk.");
        }
    }

    private static void TryDelete(string folder)
    {
        try
        {
            if (Directory.Exists(folder))
            {
                Directory.Delete(folder, recursive: true);
            }
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            // It stays under its name; the next attempt has another.
        }
    }
}

/// <summary>A copy that was made and checked.</summary>
/// <param name="Folder">Where it is.</param>
/// <param name="Entries">Entries of the intake log.</param>
/// <param name="Bytes">Size.</param>
internal sealed record BackupMade(string Folder, long Entries, long Bytes);
