using Cardassay.Collector.Storage;
using Cardassay.Collector.Storage.Memory;
using Cardassay.Fixtures;

namespace Cardassay.Collector.Tests.Intake;

/// <summary>A store in memory that lets a test act before each batch.</summary>
internal sealed class HookedStore(MemoryRecordStore store, Action beforeBatch) : WithoutRuns(store)
{
    public override void Apply(StoreBatch batch)
    {
        beforeBatch();
        base.Apply(batch);
    }
}
