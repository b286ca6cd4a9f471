using Cardassay.Collector.Storage;
using Cardassay.Collector.Storage.Memory;

namespace Cardassay.Collector.Tests.Storage;

public sealed class MemoryRecordStoreTests : RecordStoreContract
{
    // One object for the whole test: this store has no file to come back from.
    private readonly MemoryRecordStore _store = new();

    protected override IRecordStore Open() => _store;
}
