using System.Collections.Concurrent;
using System.Runtime.ExceptionServices;

namespace Cardassay.Collector.Storage.LiteDb;

/// <summary>
/// The one thread that touches the LiteDB engine. Writes to different collections from several threads damage its free list
/// (LiteDB #2825) and its transactions belong to a thread (#2822), so every call is carried here.
/// </summary>
internal sealed class LiteDbThread : IDisposable
{
    private readonly BlockingCollection<Action> _work = [];
    private readonly Thread _thread;

    internal LiteDbThread()
    {
        _thread = new Thread(Loop) { IsBackground = true, Name = "litedb" };
        _thread.Start();
    }

    public void Dispose()
    {
        _work.CompleteAdding();
        _thread.Join();
        _work.Dispose();
    }

    /// <summary>Runs the work on the thread, waits for it and passes on what it returns or throws.</summary>
    internal T Run<T>(Func<T> work)
    {
        T result = default!;
        ExceptionDispatchInfo? failure = null;
        using var done = new ManualResetEventSlim();
        _work.Add(() =>
        {
            try
            {
                result = work();
            }
            catch (Exception e)
            {
                failure = ExceptionDispatchInfo.Capture(e);
            }
            finally
            {
                done.Set();
            }
        });
        done.Wait();
        failure?.Throw();
        return result;
    }

    private void Loop()
    {
        foreach (Action work in _work.GetConsumingEnumerable())
        {
            work();
        }
    }
}
