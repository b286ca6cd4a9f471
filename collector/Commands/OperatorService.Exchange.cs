using Cardassay.Collector.Exchange;
using Cardassay.Collector.Files;
using Cardassay.Collector.Intake;
using Cardassay.Journal;
using Grpc.Core;

namespace Cardassay.Collector.Commands;

/// <summary>Master data on their way out of the collector and into it.</summary>
internal sealed partial class OperatorService
{
    private const int BatchBytes = 512 * 1024;

    /// <summary>
    /// What this collector is called in an export when nobody gave a name: the first epoch of its intake log, which names nobody.
    /// </summary>
    private string OwnName => "collector-" + log.Epochs()[0].Epoch.ToString()[..8];

    /// <inheritdoc/>
    public override async Task ReadEntries(
        V1.ReadEntriesRequest request, IServerStreamWriter<V1.EntryBatch> responseStream, ServerCallContext context)
    {
        // Gathered first, on the disk: a slow reader must not keep the store from going on, and ten years do not fit into memory.
        using EntrySpool spool = await projection.ReadCaughtUpAsync(Spooled, context.CancellationToken);
        var batch = new V1.EntryBatch { Collector = OwnName };
        int bytes = 0;
        foreach (V1.IntakeEntry entry in spool.Entries())
        {
            if (bytes >= BatchBytes)
            {
                await responseStream.WriteAsync(batch, context.CancellationToken);
                batch = new V1.EntryBatch();
                bytes = 0;
            }

            batch.Entries.Add(entry);
            bytes += entry.CalculateSize();
        }

        await responseStream.WriteAsync(batch, context.CancellationToken);
    }

    private EntrySpool Spooled(Storage.IRecordStore store) =>
        EntryFeed.Spooled(store, options.IsForReading ? Scratch.Folder : options.DataFolder);
}
