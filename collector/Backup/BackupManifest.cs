using System.Text.Json;
using System.Text.Json.Serialization;
using Cardassay.Collector.Files;

namespace Cardassay.Collector.Backup;

/// <summary>What a backup says of itself: `manifest.json`, written last.</summary>
internal sealed record BackupManifest
{
    /// <summary>Name of the file.</summary>
    internal const string FileName = "manifest.json";

    /// <summary>Layout of a backup; another number is refused.</summary>
    internal const int CurrentVersion = 1;

    /// <summary>Longest manifest read, bytes; one line per segment file.</summary>
    internal const int MaxBytes = 64 << 20;

    private static readonly JsonSerializerOptions Options = new(JsonSerializerDefaults.Web)
    {
        WriteIndented = true,
        UnmappedMemberHandling = JsonUnmappedMemberHandling.Skip,
        RespectNullableAnnotations = true,
        RespectRequiredConstructorParameters = true,
    };

    /// <summary>See <see cref="CurrentVersion"/>.</summary>
    public required int Version { get; init; }

    /// <summary>The collector's clock.</summary>
    public required DateTimeOffset MadeAt { get; init; }

    /// <summary>Version of the collector that made it.</summary>
    public required string Collector { get; init; }

    /// <summary>Entries of the intake log.</summary>
    public required long Entries { get; init; }

    /// <summary>See <see cref="LogContent"/>.</summary>
    public required string ContentSha256 { get; init; }

    /// <summary>Every file of the backup but this one.</summary>
    public required IReadOnlyList<BackupFile> Files { get; init; }

    internal string ToJson() => JsonSerializer.Serialize(this, Options);

    /// <exception cref="BackupException">There is none, or it is damaged.</exception>
    internal static BackupManifest Read(string folder)
    {
        string path = Path.Combine(folder, FileName);
        try
        {
            var file = new FileInfo(path);
            if (!file.Exists)
            {
                throw new BackupException($"{folder} is no backup: it has no {FileName}. Give the folder whose name begins with \"{BackupMaker.NameBegin}\".");
            }

            if (file.LinkTarget is not null)
            {
                throw new BackupException($"{path} is not a file a backup makes: choose another backup.");
            }

            BackupManifest manifest = JsonSerializer.Deserialize<BackupManifest>(ForeignFile.Read(path, MaxBytes), Options)
                ?? throw new BackupException($"{path} is empty: choose another backup.");
            return manifest.Version == CurrentVersion
                ? manifest
                : throw new BackupException($"{path} was written by another version of the collector: update this one.");
        }
        catch (EvidenceException e)
        {
            throw new BackupException($"{e.Message} Choose another backup.", e);
        }
        catch (JsonException e)
        {
            throw new BackupException($"{path} is damaged ({e.Message}): choose another backup.", e);
        }
    }
}

/// <summary>One file of a backup.</summary>
/// <param name="Name">"intake/NAME" or "authority/authority.pem".</param>
/// <param name="Bytes">Its length.</param>
/// <param name="Sha256">Lower-case hex.</param>
internal sealed record BackupFile(string Name, long Bytes, string Sha256);
