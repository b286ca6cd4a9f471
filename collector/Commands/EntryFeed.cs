using Cardassay.Collector.Exchange;
using Cardassay.Collector.Files;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Storage;
using Grpc.Core;

namespace Cardassay.Collector.Commands;

/// <summary>Fetches everything a collector holds.</summary>
internal static class EntryFeed
{
    /// <summary>All entries of a store but what a person took back.</summary>
    /// <param name="store">The store.</param>
    /// <param name="folder">A folder on a disk with room for everything.</param>
    /// <exception cref="IOException">There is no room on the disk.</exception>
    internal static EntrySpool Spooled(IRecordStore store, string folder)
    {
        EntrySpool spool = EntrySpool.In(folder);
        try
        {
            foreach (V1.IntakeEntry entry in EntryCodec.Counting(store))
            {
                spool.Add(entry);
            }

            return spool;
        }
        catch
        {
            spool.Dispose();
            throw;
        }
    }

    /// <summary>All entries, and the name the collector goes by.</summary>
    /// <param name="session">The collector.</param>
    /// <param name="cancellationToken">Ends the fetching.</param>
    /// <exception cref="CommandException">There is no room on the disk.</exception>
    internal static async Task<(EntrySpool Entries, string Collector)> FetchAsync(
        OperatorSession session, CancellationToken cancellationToken)
    {
        EntrySpool? entries = null;
        string folder = Scratch.Folder; // the caller's own, not the collector's: the command may run as another user than the collector
        try
        {
            entries = EntrySpool.In(folder);
            string collector = "";
            using AsyncServerStreamingCall<V1.EntryBatch> call = session.Client.ReadEntries(new V1.ReadEntriesRequest(),
                cancellationToken: cancellationToken);
            await foreach (V1.EntryBatch batch in call.ResponseStream.ReadAllAsync(cancellationToken))
            {
                foreach (V1.IntakeEntry entry in batch.Entries)
                {
                    entries.Add(entry);
                }

                collector = batch.Collector.Length > 0 ? batch.Collector : collector;
            }

            return (entries, collector);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            entries?.Dispose();
            throw new CommandException($"What the collector holds has to lie in {folder} for a while, and cannot be written there: "
                + $"{e.Message.TrimEnd('.')}. Name a folder with room in TMPDIR.");
        }
        catch
        {
            entries?.Dispose();
            throw;
        }
    }
}
