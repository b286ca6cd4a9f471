using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Intake;

/// <summary>
/// Writes down what recovery found gone, so that it is in every report from then on: into the log, or, for a command that only reads, into what the
/// command itself looks at.
/// </summary>
internal sealed class LossBook(LogAndStore data, IntakeDesk desk, Projection projection) : IDisposable
{
    private readonly SemaphoreSlim _one = new(1, 1);
    private bool _isStoreReadable = true;

    internal LogAndStore Data => data;

    /// <summary>Writes down what nobody has written down yet.</summary>
    internal async Task WriteDownAsync(CancellationToken cancellationToken)
    {
        await _one.WaitAsync(cancellationToken);
        try
        {
            V1.StoreSetAside[] aside = [.. projection.PutAsides.Select((kept, i) => i == 0 ? new V1.StoreSetAside(kept) { Beyond = data.Beyond } : kept)];
            _isStoreReadable &= aside.Length == 0;
            V1.CollectorEvent[] events =
            [
                .. data.Losses(_isStoreReadable).Select(loss => new V1.CollectorEvent { IntakeLoss = loss }),
                .. aside.Select(kept => new V1.CollectorEvent { SetAside = kept }),
            ];
            if (events.Length == 0)
            {
                return;
            }

            if (data.IsForReading)
            {
                long now = desk.NowUnixNs();
                projection.Read(store =>
                {
                    store.Apply(new StoreBatch
                    {
                        Through = store.Applied,
                        Events = [.. events.Select((e, i) => new StoredEvent(new IntakePosition("", i + 1), now, FromOperator: false, Google.Protobuf.MessageExtensions.ToByteArray(e)))],
                    });
                    return true;
                });
                return;
            }

            await desk.RecordAsync(events.Select(e => new V1.IntakeEntry { CollectorEvent = e }), cancellationToken);
            data.Written(withAside: aside.Length > 0);
            for (int i = 0; i < aside.Length; i++)
            {
                projection.PutAsides.TryDequeue(out _);
            }
        }
        finally
        {
            _one.Release();
        }
    }

    public void Dispose() => _one.Dispose();
}
