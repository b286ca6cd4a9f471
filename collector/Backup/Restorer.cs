using System.Text.RegularExpressions;
using Cardassay.Trust;

namespace Cardassay.Collector.Backup;

/// <summary>Makes a data folder from a backup. It writes into a new folder only, and takes nothing from the backup it does not expect there.</summary>
internal static partial class Restorer
{
    /// <returns>What the restored log holds.</returns>
    /// <exception cref="BackupException">Why not, and what to do; nothing is left behind.</exception>
    internal static LogContent Restore(string backup, string into)
    {
        string target = CheckTarget(into);
        BackupManifest manifest = BackupManifest.Read(backup);
        foreach (BackupFile file in manifest.Files)
        {
            if (!ExpectedName().IsMatch(file.Name))
            {
                throw new BackupException($"The backup names a file \"{PlainText.Clean(file.Name[..Math.Min(file.Name.Length, 80)])}\" that no backup has: it was altered, choose another.");
            }
        }

        if (manifest.Files.DistinctBy(f => f.Name, StringComparer.Ordinal).Count() != manifest.Files.Count)
        {
            throw new BackupException("The backup names a file twice: it was altered, choose another.");
        }

        string part = target + ".part";
        if (Path.Exists(part))
        {
            throw new BackupException($"{part} is left over from an attempt before: look at it, delete it, then try again.");
        }

        try
        {
            FileCopy.MakeFolder(part);
            foreach (BackupFile file in manifest.Files)
            {
                CopyChecked(backup, part, file);
            }

            Directory.CreateDirectory(Path.Combine(part, "intake"));
            LogContent content = FileCopy.ReadLog(Path.Combine(part, "intake"));
            if (content.Entries != manifest.Entries || content.Sha256 != manifest.ContentSha256)
            {
                throw new BackupException($"The backup in {backup} does not hold what its manifest says: choose another.");
            }

            Directory.Move(part, target);
            return content;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new BackupException($"{target} could not be made: {e.Message.TrimEnd('.')}.", e);
        }
        finally
        {
            if (Directory.Exists(part))
            {
                Directory.Delete(part, recursive: true);
            }
        }
    }

    private static void CopyChecked(string backup, string part, BackupFile file)
    {
        string[] parts = file.Name.Split('/');
        string from = Path.Combine([backup, .. parts]);
        string to = Path.Combine([part, .. parts]);
        if (new DirectoryInfo(Path.GetDirectoryName(from)!).LinkTarget is not null || new FileInfo(from).LinkTarget is not null)
        {
            throw new BackupException($"{from} is a link, and a backup has none: it was altered, choose another.");
        }

        if (!File.Exists(from))
        {
            throw new BackupException($"{from} is missing from the backup: choose another.");
        }

        FileCopy.MakeFolder(Path.GetDirectoryName(to)!);
        (long bytes, string hash) = FileCopy.Copy(from, to, null);
        if (bytes != file.Bytes || hash != file.Sha256)
        {
            throw new BackupException($"{from} is damaged: its length or hash is not what the manifest says; choose another backup.");
        }
    }

    /// <summary>A new folder in one that exists, written out without a detour.</summary>
    private static string CheckTarget(string into)
    {
        if (into.Length == 0 || into.Any(char.IsControl) || into.Split('/', '\\').Any(p => p is ".."))
        {
            throw new BackupException("--into: write the path of the new folder out, without \"..\" and control characters.");
        }

        string target = Path.TrimEndingDirectorySeparator(Path.GetFullPath(into));
        if (Path.Exists(target) || new FileInfo(target).LinkTarget is not null)
        {
            throw new BackupException($"{target} exists already, and nothing is overwritten: give a new folder with --into.");
        }

        return Directory.Exists(Path.GetDirectoryName(target))
            ? target
            : throw new BackupException($"The folder {Path.GetDirectoryName(target)} does not exist: make it first.");
    }

    [GeneratedRegex(@"\A(intake/[0-9]{10}-[0-9a-f]{32}-[0-9]{12}\.cardlog(\.damaged)?|authority/authority\.pem)\z", RegexOptions.CultureInvariant)]
    private static partial Regex ExpectedName();
}
