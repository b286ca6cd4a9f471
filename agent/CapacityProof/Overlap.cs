using Cardassay.Agent.BlockIo;

namespace Cardassay.Agent.CapacityProof;

/// <summary>
/// Lets one thread fill buffers while another uses them, so that making or checking data costs the card no time. Each buffer goes
/// round: filled on a thread of its own, used on the caller's, in the same order.
/// </summary>
internal sealed class Overlap : IDisposable
{
    private const int Buffers = 4;

    private readonly OverlapSlot[] _slots;

    public Overlap(int bufferBytes) => _slots = [.. Enumerable.Range(0, Buffers).Select(_ => new OverlapSlot(bufferBytes))];

    /// <summary>Moves a stretch, transfer by transfer, and returns when all of it was used.</summary>
    /// <param name="startBytes">First byte.</param>
    /// <param name="endBytes">First byte behind it.</param>
    /// <param name="fill">Fills a buffer; on its own thread.</param>
    /// <param name="use">Uses it; on the caller's thread.</param>
    public void Run(long startBytes, long endBytes, Action<OverlapSlot> fill, Action<OverlapSlot> use)
    {
        using var free = new SemaphoreSlim(Buffers);
        using var full = new SemaphoreSlim(0);
        using var stop = new CancellationTokenSource();
        Exception? failure = null;
        var filler = new Thread(() =>
        {
            try
            {
                int turn = 0;
                for (long at = startBytes; at < endBytes; turn++)
                {
                    free.Wait(stop.Token);
                    OverlapSlot slot = _slots[turn % Buffers];
                    slot.OffsetBytes = at;
                    slot.LengthBytes = (int)Math.Min(slot.Buffer.LengthBytes, endBytes - at);
                    fill(slot);
                    at += slot.LengthBytes;
                    full.Release();
                }
            }
            catch (OperationCanceledException) when (stop.IsCancellationRequested)
            {
                // The user of the buffers failed and says so itself.
            }
            catch (Exception e)
            {
                failure = e;
                full.Release();
            }
        })
        { IsBackground = true, Name = "proof" };
        filler.Start();
        try
        {
            int turn = 0;
            for (long at = startBytes; at < endBytes; turn++)
            {
                full.Wait();
                if (Volatile.Read(ref failure) is not null)
                {
                    break;
                }

                OverlapSlot slot = _slots[turn % Buffers];
                use(slot);
                at += slot.LengthBytes;
                free.Release();
            }
        }
        finally
        {
            stop.Cancel();
            filler.Join();
        }

        if (failure is not null)
        {
            System.Runtime.ExceptionServices.ExceptionDispatchInfo.Throw(failure);
        }
    }

    public void Dispose()
    {
        foreach (OverlapSlot slot in _slots)
        {
            slot.Buffer.Dispose();
        }
    }
}
