using System.Security.Cryptography;
using Cardassay.Journal;

namespace Cardassay.Collector.Backup;

/// <summary>Copies files so that only their owner can read them, hashes what it copies, and returns when it is on the disk.</summary>
internal static class FileCopy
{
    private const int BufferBytes = 1 << 20;

    /// <summary>Mode of every folder of a backup.</summary>
    internal const UnixFileMode FolderMode = UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.UserExecute;

    /// <summary>Copies the first bytes of a file that may be growing; null for all of it.</summary>
    /// <returns>Length and SHA-256 of what was written.</returns>
    internal static (long Bytes, string Sha256) Copy(string from, string to, long? bytes)
    {
        using var source = new FileStream(from, FileMode.Open, FileAccess.Read, FileShare.ReadWrite | FileShare.Delete, 1);
        var options = new FileStreamOptions { Mode = FileMode.CreateNew, Access = FileAccess.Write, BufferSize = 0 };
        if (!OperatingSystem.IsWindows())
        {
            options.UnixCreateMode = UnixFileMode.UserRead | UnixFileMode.UserWrite;
        }

        using var target = new FileStream(to, options);
        using var hash = IncrementalHash.CreateHash(HashAlgorithmName.SHA256);
        byte[] buffer = new byte[BufferBytes];
        long left = bytes ?? long.MaxValue;
        long written = 0;
        while (left > 0)
        {
            int read = source.Read(buffer, 0, (int)Math.Min(buffer.Length, left));
            if (read == 0)
            {
                break;
            }

            target.Write(buffer, 0, read);
            hash.AppendData(buffer, 0, read);
            left -= read;
            written += read;
        }

        target.Flush(flushToDisk: true);
        return bytes is { } wanted && wanted != written
            ? throw new IOException($"{from} is shorter than it was a moment ago")
            : (written, Convert.ToHexStringLower(hash.GetHashAndReset()));
    }

    internal static void MakeFolder(string path)
    {
        if (OperatingSystem.IsWindows())
        {
            Directory.CreateDirectory(path);
        }
        else
        {
            Directory.CreateDirectory(path, FolderMode);
        }
    }

    /// <summary>Opens the log in a folder, reads all of it, and closes it again without leaving a trace.</summary>
    internal static LogContent ReadLog(string folder)
    {
        LogContent content;
        using (RecordLog log = RecordLog.Open(new RealLogDisk(folder), new LogOptions
        {
            MaxBytes = 0,
            SchemaVersion = Wire.ProtocolVersion.Schema,
            NewEpoch = () => new LogEpoch(Guid.NewGuid()),
        }))
        {
            if (!log.Recovery.IsClean && log.Recovery.Cuts.Count > 0)
            {
                throw new BackupException("The copy ends in the middle of an entry.");
            }

            content = LogContent.Of(log, log.Epochs());
        }

        File.Delete(Path.Combine(folder, "log.lock"));
        return content;
    }
}
