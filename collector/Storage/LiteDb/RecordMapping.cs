using System.Globalization;
using Cardassay.Collector.Analysis;
using LiteDB;

namespace Cardassay.Collector.Storage.LiteDb;

/// <summary>Documents written by hand: the mapper of the library would cut times and depend on names in the code.</summary>
internal static class RecordMapping
{
    internal static string IdOf(RecordKey key) =>
        string.Create(CultureInfo.InvariantCulture, $"{key.Epoch}:{key.Sequence:x16}");

    internal static string ConflictIdOf(RecordKey key, ReadOnlySpan<byte> hash) => $"{IdOf(key)}:{Convert.ToHexStringLower(hash)}";

    internal static BsonDocument ToDocument(StoredRecord record) => new()
    {
        ["_id"] = record.Conflicting ? ConflictIdOf(record.Key, record.Hash) : IdOf(record.Key),
        ["epoch"] = record.Key.Epoch,
        ["sequence"] = record.Key.Sequence,
        ["board"] = record.Board,
        ["boot"] = record.BootId,
        ["payload"] = record.Payload,
        ["hash"] = record.Hash,
        ["wall"] = record.WallUnixNs,
        ["monotonic"] = record.MonotonicNs,
        ["received"] = record.ReceivedUnixNs,
        ["offset"] = record.ClockOffsetNs,
    };

    internal static StoredRecord ToRecord(BsonDocument document, bool conflicting) => new()
    {
        Key = new RecordKey(document["epoch"].AsString, document["sequence"].AsInt64),
        Board = document["board"].AsString,
        BootId = document["boot"].AsString,
        Payload = document["payload"].AsBinary,
        Hash = document["hash"].AsBinary,
        WallUnixNs = document["wall"].AsInt64,
        MonotonicNs = document["monotonic"].AsInt64,
        ReceivedUnixNs = document["received"].AsInt64,
        ClockOffsetNs = document["offset"].AsInt64,
        Conflicting = conflicting,
    };

    internal static BsonDocument ToDocument(StoredEvent e) => new()
    {
        ["_id"] = string.Create(CultureInfo.InvariantCulture, $"{e.Position.Epoch}:{e.Position.Sequence:x16}"),
        ["epoch"] = e.Position.Epoch,
        ["sequence"] = e.Position.Sequence,
        ["at"] = e.AtUnixNs,
        ["operator"] = e.FromOperator,
        ["payload"] = e.Payload,
    };

    internal static StoredEvent ToEvent(BsonDocument document) => new(
        new IntakePosition(document["epoch"].AsString, document["sequence"].AsInt64),
        document["at"].AsInt64,
        document["operator"].AsBoolean,
        document["payload"].AsBinary);

    internal static BsonDocument ToDocument(StoredMark mark) => new()
    {
        ["_id"] = mark.Epoch,
        ["board"] = mark.Board,
        ["through"] = mark.Through,
        ["ahead"] = mark.Ahead,
    };

    internal static StoredMark ToMark(BsonDocument document) =>
        new(document["_id"].AsString, document["board"].AsString, document["through"].AsInt64)
        {
            Ahead = document["ahead"].IsString ? document["ahead"].AsString : "", // not there in files of earlier versions
        };
}
