using System.Globalization;
using Cardassay.Collector.Files;
using Cardassay.Collector.Storage;
using Cardassay.Journal;
using Microsoft.Extensions.Logging.Abstractions;

namespace Cardassay.Collector.Intake;

/// <summary>
/// Makes the store again. What the store holds and the log lacks is journaled first, because the store may be the last to hold it; only whoever asks for
/// the log alone, and has been told what goes, does without.
/// </summary>
/// <param name="losses">What is known to be gone.</param>
/// <param name="desk">Writes into the log.</param>
/// <param name="projection">Holds the store that is made again.</param>
/// <param name="makeAlone">Makes a place for what the log alone comes to, in a folder that is gone afterwards.</param>
/// <param name="from">Another store to take from: the one the results are moved out of; null for none.</param>
internal sealed class Rebuilder(LossBook losses, IntakeDesk desk, Projection projection, Func<string, IStorePlace> makeAlone, IStorePlace? from)
{
    private const int Slice = 500;
    private const int ExamplesNamed = 10;

    internal async Task<V1.Rebuilt> RunAsync(V1.RebuildRequest request, CancellationToken cancellationToken)
    {
        if (request.Check)
        {
            return await projection.ReadCaughtUpAsync(RunCheck.Of, cancellationToken);
        }

        RecordLog log = losses.Data.Log;
        var answer = new V1.Rebuilt();
        string folder = Scratch.MakeFolder("rebuild");
        try
        {
            await using var alone = new Projection(log, makeAlone(folder), NullLogger.Instance, TimeProvider.System);
            await Task.Run(alone.CatchUp, cancellationToken);
            await losses.WriteDownAsync(cancellationToken); // reading the whole log may have come upon more
            await Task.Run(alone.CatchUp, cancellationToken);
            bool readToTheEnd = await TakeAsync(() => projection.Store, alone, answer, request.FromLogAlone, cancellationToken);
            foreach (Func<IRecordStore?> source in request.FromLogAlone ? [] : Others())
            {
                await TakeAsync(source, alone, answer, isOnlyCounted: false, cancellationToken);
            }

            bool wouldGo = answer.ExtraRecords + answer.ExtraConflicts + answer.ExtraEvents > 0 || !readToTheEnd;
            if (request.FromLogAlone && wouldGo && !request.Drop)
            {
                answer.Refused = true;
                return answer;
            }

            await NoteAsync(alone, answer, request.FromLogAlone, cancellationToken);
            answer.KeptAs = await Task.Run(() => projection.Remake(keep: !readToTheEnd && !request.Drop), cancellationToken);
            await Task.Run(projection.KeepRuns, cancellationToken);
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }

        (long records, long conflicts) = projection.Read(store => store.Count());
        answer.Entries = (ulong)log.DurableSequence;
        answer.Rows = (ulong)(records + conflicts);
        return answer;
    }

    /// <summary>The stores that were put aside, and the one the results come from.</summary>
    private IEnumerable<Func<IRecordStore?>> Others()
    {
        foreach (string kept in projection.Place.Kept())
        {
            yield return () => projection.Place.OpenKept(kept);
        }

        if (from is not null)
        {
            yield return () => from.OpenForReading();
            foreach (string kept in from.Kept())
            {
                yield return () => from.OpenKept(kept);
            }
        }
    }

    /// <summary>Takes out of one store what the log lacks; false when it could not be read to its end.</summary>
    private async Task<bool> TakeAsync(Func<IRecordStore?> source, Projection alone, V1.Rebuilt answer, bool isOnlyCounted, CancellationToken cancellationToken)
    {
        IRecordStore? store = null;
        bool toTheEnd = true;
        try
        {
            store = source();
            if (store is null)
            {
                return true;
            }

            IEnumerable<V1.IntakeEntry> surplus = Until(Surplus.Of(store, alone.Store), () => toTheEnd = false);
            foreach (V1.IntakeEntry[] slice in surplus.Chunk(Slice))
            {
                Count(slice, answer);
                if (!isOnlyCounted)
                {
                    await desk.RecoverAsync(slice, cancellationToken);
                }
            }

            await Task.Run(alone.CatchUp, cancellationToken); // the next store is held against what is in the log by now
            return toTheEnd;
        }
        catch (StoreException e) when (e is not StoreUnavailableException)
        {
            return false;
        }
        finally
        {
            if (store is not null && !ReferenceEquals(store, projection.Store))
            {
                store.Dispose();
            }
        }
    }

    /// <summary>Everything up to where a damaged store cannot be read any further.</summary>
    private static IEnumerable<V1.IntakeEntry> Until(IEnumerable<V1.IntakeEntry> entries, Action broken)
    {
        using IEnumerator<V1.IntakeEntry> each = entries.GetEnumerator();
        while (true)
        {
            try
            {
                if (!each.MoveNext())
                {
                    yield break;
                }
            }
            catch (StoreException e) when (e is not StoreUnavailableException)
            {
                broken();
                yield break;
            }

            yield return each.Current;
        }
    }

    private static void Count(V1.IntakeEntry[] entries, V1.Rebuilt answer)
    {
        foreach (V1.IntakeEntry entry in entries)
        {
            answer.ExtraRecords += entry.Delivered is { Conflicting: false } ? 1u : 0;
            answer.ExtraConflicts += entry.Delivered is { Conflicting: true } ? 1u : 0;
            answer.ExtraEvents += entry.Delivered is null ? 1u : 0;
            if (answer.Examples.Count < ExamplesNamed)
            {
                answer.Examples.Add(entry.Delivered is { } delivered
                    ? string.Create(CultureInfo.InvariantCulture, $"record {IntakeCodec.KeyOf(delivered.Record)} of board {delivered.Board}")
                    : entry.OperatorEvent is { } said ? $"what a person said: {said.KindCase}" : $"what the collector noticed: {entry.CollectorEvent?.KindCase}");
            }
        }
    }

    /// <summary>Writes down what came of the losses that were open.</summary>
    private async Task NoteAsync(Projection alone, V1.Rebuilt answer, bool fromLogAlone, CancellationToken cancellationToken)
    {
        var known = Losses.Of(alone.Store.Events());
        long recovered = fromLogAlone ? 0 : (long)(answer.ExtraRecords + answer.ExtraConflicts + answer.ExtraEvents);
        long open = known.OnlyStored + known.Lost;
        long still = Math.Max(0, open - recovered);
        answer.StillLost = (ulong)still;
        if (recovered == 0 && known.OnlyStored == 0)
        {
            return; // what is lost is lost as before, and whoever acknowledged it need not do so again
        }

        var noted = new V1.StoreRecovered
        {
            Records = fromLogAlone ? 0 : answer.ExtraRecords,
            Conflicts = fromLogAlone ? 0 : answer.ExtraConflicts,
            Events = fromLogAlone ? 0 : answer.ExtraEvents,
            StillLost = (ulong)still,
            Collector = losses.Data.Name,
        };
        noted.Losses.AddRange(known.Open);
        await desk.RecordAsync([new V1.IntakeEntry { CollectorEvent = new V1.CollectorEvent { Recovered = noted } }], cancellationToken);
    }
}
