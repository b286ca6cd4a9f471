using Grpc.Core;

namespace Cardassay.Collector.Commands;

/// <summary>Fetches everything a collector holds.</summary>
internal static class EntryFeed
{
    /// <summary>All entries, and the name the collector goes by.</summary>
    internal static async Task<(IReadOnlyList<V1.IntakeEntry> Entries, string Collector)> FetchAsync(OperatorSession session, CancellationToken cancellationToken)
    {
        var entries = new List<V1.IntakeEntry>();
        string collector = "";
        using AsyncServerStreamingCall<V1.EntryBatch> call = session.Client.ReadEntries(new V1.ReadEntriesRequest(), cancellationToken: cancellationToken);
        await foreach (V1.EntryBatch batch in call.ResponseStream.ReadAllAsync(cancellationToken))
        {
            entries.AddRange(batch.Entries);
            collector = batch.Collector.Length > 0 ? batch.Collector : collector;
        }

        return (entries, collector);
    }
}
