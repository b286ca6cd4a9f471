using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Commands;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Report.Model;
using Cardassay.Collector.Storage.Memory;
using Cardassay.Collector.Tests.Exchange;
using Cardassay.Demo;
using Cardassay.Wire;
using Google.Protobuf;

namespace Cardassay.Collector.Tests.Report.Tarrow;

/// <summary>The report on the demonstration data, made once: what a person sees who loads them. tests/demo shows from the records alone what was planted.</summary>
internal static class TarrowNights
{
    /// <summary>Half past eight in the morning after the third night.</summary>
    private static readonly DateTimeOffset Loaded = new(2026, 3, 5, 8, 30, 0, TimeSpan.Zero);

    private static readonly Lazy<MasterData> Read = new(() => Load(Claims.All()));

    private static readonly Lazy<ReportModel> Made = new(() => ReportDesk.Model(Data, UseProfile.SystemDisk));

    public static MasterData Data => Read.Value;

    public static ReportModel Report => Made.Value;

    public static ReportCard Card(string tag) => Report.Cards.Single(c => c.Tag == tag);

    /// <summary>The report with other claims.</summary>
    public static ReportModel Build(IEnumerable<Cardassay.Identity.Claim> claims) => ReportDesk.Model(Load(claims), UseProfile.SystemDisk);

    private static MasterData Load(IEnumerable<Cardassay.Identity.Claim> claims)
    {
        List<V1.IntakeEntry> entries = [];
        foreach (BoardRecords board in DemoData.Boards())
        {
            ulong sequence = 0;
            foreach (Stamped record in board.Records)
            {
                V1.IntakeEntry entry = ExchangeSamples.Delivered(board.Board.Name, 1, ++sequence, ObservationCodec.Encode(record.Observation), record.Stamp.WallUnixNs, record.Stamp.WallUnixNs);
                entry.Delivered.Record.MonotonicNs = record.Stamp.MonotonicNs;
                entry.Delivered.Record.BootId = ByteString.CopyFrom(record.Stamp.BootId.ToByteArray(bigEndian: true));
                entries.Add(entry);
            }
        }

        entries.AddRange(claims.Select(c => new V1.IntakeEntry
        {
            ReceivedUnixNs = (Loaded - DateTimeOffset.UnixEpoch).Ticks * 100, OperatorEvent = new V1.OperatorEvent { Claim = ClaimCodec.ToMessage(c) },
        }));
        using MemoryRecordStore store = EntryStore.Of(entries);
        return MasterDataLoader.Load(store);
    }
}
