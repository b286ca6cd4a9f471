using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using Cardassay.Agent.Delivery;
using Cardassay.Journal;
using Cardassay.Trials;
using Cardassay.Wire;

namespace Cardassay.Agent.Commands;

/// <summary>
/// How far a full proof of one card came, as the record it would journal, and what shows later that nothing else wrote to the card, in
/// a small file of its own: the journal may be delivered and released before the proof goes on. A new file is written and synced
/// before it takes the old one's place.
/// </summary>
internal sealed class ProofCheckpoint
{
    private const int LimitBytes = 1 << 20;

    private readonly string _folder;
    private readonly string _name;

    private ProofCheckpoint(string folder, string name)
    {
        _folder = folder;
        _name = name;
    }

    /// <summary>The checkpoint of the card of a run, by identity, tag and size.</summary>
    internal static ProofCheckpoint For(AgentFolder folder, RunSite site)
    {
        string card = $"{site.Card?.Identity.Text}\n{site.Tag}\n{site.Target.DeviceBytes}";
        return new ProofCheckpoint(folder.Proofs, Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(card)))[..32]);
    }

    /// <summary>What was kept; null when there is nothing, or nothing this version can read.</summary>
    internal KeptProof? Load()
    {
        string path = Path.Combine(_folder, _name);
        if (!File.Exists(path) || new FileInfo(path).Length > LimitBytes)
        {
            return null;
        }

        try
        {
            using var json = JsonDocument.Parse(File.ReadAllBytes(path));
            JsonElement root = json.RootElement;
            return ObservationCodec.Decode(root.GetProperty("proof").GetBytesFromBase64()) is ProofMeasured proof
                ? new KeptProof(proof, new CardPresence(
                    root.GetProperty("bootId").GetString(),
                    root.GetProperty("diskSequence") is { ValueKind: JsonValueKind.Number } sequence ? sequence.GetInt64() : null,
                    root.GetProperty("sectorsWritten") is { ValueKind: JsonValueKind.Number } sectors ? sectors.GetInt64() : null))
                : null;
        }
        catch (Exception e) when (e is WireFormatException or JsonException or FormatException or KeyNotFoundException
            or InvalidOperationException)
        {
            return null; // damaged, or of an earlier version, which could not tell whether anything else wrote
        }
    }

    /// <summary>Keeps it; it is on the disk when this returns.</summary>
    internal void Save(KeptProof kept)
    {
        using var text = new MemoryStream();
        using (var json = new Utf8JsonWriter(text))
        {
            json.WriteStartObject();
            json.WriteString("bootId", kept.Presence.BootId);
            Number(json, "diskSequence", kept.Presence.DiskSequence);
            Number(json, "sectorsWritten", kept.Presence.SectorsWritten);
            json.WriteBase64String("proof", ObservationCodec.Encode(kept.Proof));
            json.WriteEndObject();
        }

        var disk = new RealLogDisk(_folder);
        string next = _name + ".new";
        using (ILogFile file = disk.Create(next))
        {
            file.Write(0, text.ToArray());
            file.Sync();
        }

        disk.Rename(next, _name);
        disk.SyncFolder();
    }

    /// <summary>The proof came to its end, or cannot be taken up again.</summary>
    internal void Forget()
    {
        if (File.Exists(Path.Combine(_folder, _name)))
        {
            File.Delete(Path.Combine(_folder, _name));
            new RealLogDisk(_folder).SyncFolder();
        }
    }

    private static void Number(Utf8JsonWriter json, string name, long? value)
    {
        if (value is { } number)
        {
            json.WriteNumber(name, number);
        }
        else
        {
            json.WriteNull(name);
        }
    }
}
