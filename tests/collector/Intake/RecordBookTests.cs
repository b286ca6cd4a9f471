using System.Runtime.CompilerServices;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Tests.Intake;

public sealed class RecordBookTests
{
    /// <summary>Another collector's records of a later version may be a hundred times what this one has memory for.</summary>
    [Fact]
    public void Add_ARecordThatCannotBeRead_TellsOfItAndHoldsNothingOfIt()
    {
        var book = new RecordBook(null);
        WeakReference payload = Add(book);
        GC.Collect();
        Assert.False(payload.IsAlive);
        Assert.Equal("unreadable-record", Assert.Single(book.Read(CollectorsRegarded.Of([]), board => board).Findings).Id);
    }

    [MethodImpl(MethodImplOptions.NoInlining)] // so that nothing on the stack holds it
    private static WeakReference Add(RecordBook book)
    {
        byte[] payload = [0xFF, 0xFF, 0xFF];
        book.Add(new StoredRecord
        {
            Key = new RecordKey("00", 1),
            Board = "bench",
            BootId = new string('0', 32),
            Payload = payload,
            Hash = [],
        });
        return new WeakReference(payload);
    }
}
