using Cardassay.Collector.Analysis;
using Cardassay.Collector.Storage;
using Cardassay.Collector.Storage.Memory;
using Cardassay.Collector.Storage.Reading;

namespace Cardassay.Collector.Tests.Storage;

/// <summary>What a command that only reads sees: the store below and what the log holds beyond it, as one store. With nothing below it is a store like any other.</summary>
public sealed class OverlayStoreTests : RecordStoreContract
{
    private readonly MemoryRecordStore _kept = new();

    protected override IRecordStore Open() => new OverlayStore(null, _ => true, () => _kept) is var overlay && _kept.Applied.Epoch.Length > 0
        ? new OverlayStore(_kept, _ => true, () => new MemoryRecordStore())
        : overlay;

    protected override bool KeepsRuns => false;

    [Fact]
    public void Runs_ToWhichALayerAdds_HaveNothingKept_AndTheOthersHave()
    {
        var below = new MemoryRecordStore();
        Apply(below, 1, Opened(1, 'a'), Closed(2, 'a'), Opened(3, 'b'), Closed(4, 'b'));
        below.Runs.Keep([Run(below, 'a') with { Kept = [1] }, Run(below, 'b') with { Kept = [2] }], Version);
        using var both = new OverlayStore(below, _ => true, () => new MemoryRecordStore());
        Assert.Equal([1], Run(both, 'a').Kept);
        Apply(both, 2, Closed(5, 'a'));
        Assert.Equal(2, both.Runs!.All(Version).Count());
        Assert.Equal((1L, 5L, 3L), (Run(both, 'a').First, Run(both, 'a').Last, Run(both, 'a').Records));
        Assert.Null(Run(both, 'a').Kept);
        Assert.Equal([2], Run(both, 'b').Kept);
        Assert.Equal([1L, 2, 3, 4, 5], both.Runs.Records(Epoch, 1, 5).Select(r => r.Key.Sequence));
        Assert.Equal([1], Run(below, 'a').Kept);
    }

    [Fact]
    public void Apply_OverAStore_LeavesItAsItIs_AndShowsBoth()
    {
        var below = new MemoryRecordStore();
        below.Apply(new StoreBatch
        {
            Through = new IntakePosition("e", 2),
            Records = [Record(1, [1]), Record(3, [3])],
            Events = [new StoredEvent(new IntakePosition("e", 2), 5, true, [1])],
            Marks = [new StoredMark(Epoch, "b", 1)],
        });
        using var both = new OverlayStore(below, _ => true, () => new MemoryRecordStore());
        both.Apply(new StoreBatch
        {
            Through = new IntakePosition("e", 6),
            Records = [Record(2, [2]), Record(3, [3]), Record(1, [9])], // new, the very same, and another content of a known key
            Events = [new StoredEvent(new IntakePosition("e", 2), 5, true, [1]), new StoredEvent(new IntakePosition("e", 6), 4, false, [2])],
            Marks = [new StoredMark(Epoch, "b", 3)],
        });

        Assert.Equal([1, 2, 3], both.Records().Select(r => r.Key.Sequence));
        Assert.Equal([1], both.Records().First().Payload);
        Assert.Equal([9], Assert.Single(both.Conflicts()).Payload);
        Assert.Equal((3L, 1L), both.Count());
        Assert.Equal([6, 2], both.Events().Select(e => e.Position.Sequence));
        Assert.Equal(3, Assert.Single(both.Marks()).Through);
        Assert.Equal(new IntakePosition("e", 6), both.Applied);
        Assert.Equal((2L, 0L), below.Count());
        Assert.Single(below.Events());
    }

    [Fact]
    public void Applied_OfAStoreInAnotherLog_IsTheBeginning_SoThatTheWholeLogIsLaidOverIt()
    {
        var below = new MemoryRecordStore();
        below.Apply(new StoreBatch { Through = new IntakePosition("elsewhere", 9), Records = [Record(1, [1])] });
        using var both = new OverlayStore(below, at => at.Epoch != "elsewhere", () => new MemoryRecordStore());
        Assert.Equal(new IntakePosition("", 0), both.Applied);
        Assert.Single(both.Records());
    }
}
