using Cardassay.Collector.Intake;
using Cardassay.Journal;
using Grpc.Core;

namespace Cardassay.Collector.Commands;

/// <summary>Master data on their way out of the collector and into it.</summary>
internal sealed partial class OperatorService
{
    private const int BatchBytes = 512 * 1024;

    /// <summary>What this collector is called in an export when nobody gave a name: the first epoch of its intake log, which names nobody.</summary>
    private string OwnName => "collector-" + log.Epochs()[0].Epoch.ToString()[..8];

    /// <inheritdoc/>
    public override async Task ReadEntries(V1.ReadEntriesRequest request, IServerStreamWriter<V1.EntryBatch> responseStream, ServerCallContext context)
    {
        // Gathered first: a slow reader must not keep the store from going on.
        foreach (V1.EntryBatch batch in await projection.ReadCaughtUpAsync(Batches, context.CancellationToken))
        {
            await responseStream.WriteAsync(batch, context.CancellationToken);
        }
    }

    private List<V1.EntryBatch> Batches(Storage.IRecordStore store)
    {
        List<V1.EntryBatch> batches = [new V1.EntryBatch { Collector = OwnName }];
        int bytes = 0;
        foreach (V1.IntakeEntry entry in EntryCodec.All(store))
        {
            if (bytes >= BatchBytes)
            {
                batches.Add(new V1.EntryBatch());
                bytes = 0;
            }

            batches[^1].Entries.Add(entry);
            bytes += entry.CalculateSize();
        }

        return batches;
    }
}
