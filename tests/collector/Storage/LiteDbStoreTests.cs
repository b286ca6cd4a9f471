using Cardassay.Collector.Storage;
using Cardassay.Collector.Storage.LiteDb;

namespace Cardassay.Collector.Tests.Storage;

public sealed class LiteDbStoreTests : RecordStoreContract
{
    private readonly string _folder = Directory.CreateTempSubdirectory("cardassay-store-").FullName;

    private string DatabasePath => Path.Combine(_folder, "cardassay.db");

    [Fact]
    public void Open_DamagedFile_IsAStoreException()
    {
        File.WriteAllBytes(DatabasePath, [.. Enumerable.Repeat((byte)0x5A, 20_000)]);
        StoreException e = Assert.Throws<StoreException>(Open);
        Assert.Contains(DatabasePath, e.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Delete_TakesTheEnginesLogAway()
    {
        using (IRecordStore store = Open())
        {
            store.Apply(new StoreBatch { Through = new IntakePosition("e", 1) });
        }

        LiteDbStore.Delete(DatabasePath);
        Assert.Empty(Directory.EnumerateFiles(_folder));
    }

    public override void Dispose()
    {
        base.Dispose();
        Directory.Delete(_folder, recursive: true);
    }

    protected override IRecordStore Open() => LiteDbStore.Open(DatabasePath);
}
