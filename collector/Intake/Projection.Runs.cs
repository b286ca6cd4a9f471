using Cardassay.Collector.Hosting;
using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Intake;

/// <summary>What is kept of runs that are over is made here, when nothing else is to be done.</summary>
internal sealed partial class Projection
{
    /// <summary>Runs made while readers wait.</summary>
    private const int RunsAtOnce = 100;

    /// <summary>Makes everything that is missing now.</summary>
    /// <exception cref="StoreException">The store cannot be used now.</exception>
    internal void KeepRuns()
    {
        while (KeepSome())
        {
        }
    }

    /// <summary>The same, as long as nothing comes in. What fails is tried again after the next batch, which tells of the store; the
    /// store is as good without it.</summary>
    private void KeepRunsWhileQuiet(CancellationToken stop)
    {
        long end = _log.LastSequence;
        try
        {
            while (_log.LastSequence == end && !stop.IsCancellationRequested && KeepSome())
            {
            }
        }
        catch (Exception e) when (e is not OutOfMemoryException)
        {
            LogNotKept(_logger, e.Message);
        }
    }

    /// <summary>False when nothing is left to be made.</summary>
    private bool KeepSome()
    {
        lock (_stepping)
        {
            try
            {
                if (OpenStore().Runs is not { } index || index.ToKeep(RunKeeping.Version, RunsAtOnce) is not { Count: > 0 } runs)
                {
                    return false;
                }

                index.Keep([.. runs.Select(run => RunKeeping.Made(index, run))], RunKeeping.Version);
                return true;
            }
            catch (StoreUnavailableException)
            {
                throw; // what is open may be asked again
            }
            catch (StoreException e)
            {
                CloseStore(); // as after a batch that failed
                if (e is StoreDamagedException)
                {
                    Volatile.Write(ref _damage, e);
                    Wake(); // it is put aside
                }

                throw;
            }
        }
    }

    [LoggerMessage(EventId = EventNumbers.RunsNotKept, Level = LogLevel.Warning,
        Message = "What reports need of finished runs is kept later; until then they read the records: {Reason}")]
    private static partial void LogNotKept(ILogger logger, string reason);
}
