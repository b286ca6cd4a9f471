using System.IO.Hashing;
using System.Text;
using LiteDB;

namespace Cardassay.Collector.Storage.LiteDb;

/// <summary>Documents of runs, written by hand as those of records are.</summary>
internal static class RunMapping
{
    /// <summary>By epoch first, since runs are read so. Of the board a hash: the engine takes no key of any length.</summary>
    internal static string IdOf(RunKey key) =>
        $"{key.Epoch}:{key.Run}:{Convert.ToHexStringLower(XxHash128.Hash(Encoding.UTF8.GetBytes(key.Board)))}";

    internal static BsonDocument ToDocument(StoredRun run) => new()
    {
        ["_id"] = IdOf(run.Key),
        ["epoch"] = run.Key.Epoch,
        ["board"] = run.Key.Board,
        ["run"] = run.Key.Run,
        ["first"] = run.First,
        ["last"] = run.Last,
        ["records"] = run.Records,
        ["print"] = run.Fingerprint,
        ["closed"] = run.IsClosed,
    };

    internal static StoredRun ToRun(BsonDocument document) => new(
        new RunKey(document["epoch"].AsString, document["board"].AsString, document["run"].AsString),
        document["first"].AsInt64,
        document["last"].AsInt64,
        document["records"].AsInt64,
        document["print"].AsInt64,
        document["closed"].AsBoolean);
}
