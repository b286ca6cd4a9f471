using Cardassay.Collector.Storage;
using Cardassay.Trials;
using Cardassay.Wire;

namespace Cardassay.Collector.Tests.Storage;

/// <summary>What every store must hold of the runs its records belong to.</summary>
public abstract partial class RecordStoreContract
{
    protected const int Version = 3;

    /// <summary>False for a store that is for reading and keeps nothing.</summary>
    protected virtual bool KeepsRuns => true;

    [SkippableFact]
    public void Runs_WhateverOrderTheRecordsCameIn_SayWhereTheyAre()
    {
        using IRecordStore store = Open();
        Apply(store, 1, Opened(5, 'a'), Record(9, [7]));
        Apply(store, 2, Closed(8, 'a'), Opened(6, 'b') with { Board = "attic" }, Identified(2, 'a'));
        StoredRun[] runs = [.. store.Runs!.All(Version)];
        Assert.True(store.Runs.IsWhole);
        Assert.Equal(
            [("bench", Id('a'), 2L, 8L, 3L, true), ("attic", Id('b'), 6, 6, 1, false), ("bench", "0000000000000009", 9, 9, 1, false)],
            runs.OrderBy(r => r.First).Select(r => (r.Key.Board, r.Key.Run, r.First, r.Last, r.Records, r.IsClosed)));
        Assert.All(runs, r => Assert.Null(r.Kept));
        Assert.Equal([2L, 5, 6, 8], store.Runs.Records(Epoch, 2, 8).Select(r => r.Key.Sequence));
        Assert.Equal([5L], store.Runs.Records(Epoch, 3, 5).Select(r => r.Key.Sequence));
        Assert.Empty(store.Runs.Records(new string('f', 32), 1, 9));
    }

    [SkippableFact]
    public void Runs_MoreThanOneSet_ComeAllInTheOrderOfTheirJournals()
    {
        using IRecordStore store = Open();
        string[] epochs = [.. Enumerable.Range(0, 1_100).Select(i => i.ToString("x32", System.Globalization.CultureInfo.InvariantCulture))];
        Apply(store, 1, [.. epochs.Reverse().Select(e => Closed(1, 'a') with { Key = new(e, 1) })]);
        Assert.Equal(epochs, store.Runs!.All(Version).Select(r => r.Key.Epoch));
        Apply(store, 2, [.. Enumerable.Range(1, 2_100).Select(i => Record(i, [7]))]);
        Assert.Equal(Enumerable.Range(3, 2_090).Select(i => (long)i), store.Runs.Records(Epoch, 3, 2_092).Select(r => r.Key.Sequence));
    }

    [SkippableFact]
    public void Apply_SameBatchTwice_CountsNoRecordOfARunTwice()
    {
        using IRecordStore store = Open();
        Apply(store, 1, Opened(1, 'a'), Closed(2, 'a'));
        StoredRun before = Assert.Single(store.Runs!.All(Version));
        Apply(store, 1, Opened(1, 'a'), Closed(2, 'a'));
        Apply(store, 2, Opened(1, 'a') with { Conflicting = true, Hash = new byte[32] }); // which is no record of the run
        Assert.Equal(before, Assert.Single(store.Runs.All(Version)));
    }

    [SkippableFact]
    public void Keep_UntilARecordComes_IsThereAfterReopening()
    {
        using (IRecordStore store = Open())
        {
            Apply(store, 1, Opened(1, 'a'), Closed(2, 'a'), Opened(3, 'b'));
            Assert.Equal(KeepsRuns ? [Id('a')] : [], store.Runs!.ToKeep(Version, 10).Select(r => r.Key.Run));
            store.Runs.Keep([Run(store, 'a') with { Kept = [1, 2] }, Run(store, 'b') with { Kept = [3] }], Version);
            Assert.Empty(store.Runs.ToKeep(Version, 10));
        }

        using IRecordStore again = Open();
        Assert.True(again.Runs!.IsWhole);
        Assert.Equal(KeepsRuns ? [1, 2] : null, Run(again, 'a').Kept);
        Assert.Equal(KeepsRuns ? [3] : null, Run(again, 'b').Kept);
        Apply(again, 2, Identified(7, 'a'), Record(8, [1]));
        Assert.Null(Run(again, 'a').Kept); // a record came late
        Assert.Equal((1L, 7L, 3L), (Run(again, 'a').First, Run(again, 'a').Last, Run(again, 'a').Records));
        Assert.Equal(KeepsRuns ? [3] : null, Run(again, 'b').Kept);
        Assert.Equal(KeepsRuns ? [Id('a')] : [], again.Runs.ToKeep(Version, 10).Select(r => r.Key.Run));
    }

    [SkippableFact]
    public void Keep_OfRecordsThatWereNotAllThere_IsLeftOut()
    {
        using IRecordStore store = Open();
        Apply(store, 1, Opened(1, 'a'), Closed(2, 'a'));
        StoredRun made = Run(store, 'a') with { Kept = [1] };
        Apply(store, 2, Identified(3, 'a'));
        store.Runs!.Keep([made], Version);
        Assert.Null(Run(store, 'a').Kept);
    }

    [SkippableFact]
    public void Keep_InAnotherVersion_IsNotKept_AndMadeAgain()
    {
        using IRecordStore store = Open();
        Apply(store, 1, Opened(1, 'a'), Closed(2, 'a'));
        store.Runs!.ToKeep(Version, 1);
        store.Runs.Keep([Run(store, 'a') with { Kept = [1] }], Version);
        Assert.Null(Run(store, 'a', Version + 1).Kept);
        Assert.Equal(KeepsRuns ? 1 : 0, store.Runs.ToKeep(Version + 1, 10).Count);
        store.Runs.Keep([Run(store, 'a') with { Kept = [2] }], Version + 1);
        Assert.Equal(KeepsRuns ? [2] : null, Run(store, 'a', Version + 1).Kept);
        Assert.Null(Run(store, 'a').Kept);
    }

    [SkippableFact]
    public void Forget_WhatIsKept_IsToBeMadeAgain()
    {
        using IRecordStore store = Open();
        Apply(store, 1, Opened(1, 'a'), Closed(2, 'a'));
        store.Runs!.ToKeep(Version, 1);
        store.Runs.Keep([Run(store, 'a') with { Kept = [1] }], Version);
        store.Runs.Forget([Run(store, 'a')]);
        Assert.Null(Run(store, 'a').Kept);
        Assert.Equal(KeepsRuns ? 1 : 0, store.Runs.ToKeep(Version, 10).Count);
    }

    protected static StoredRun Run(IRecordStore store, char run, int version = Version) => store.Runs!.All(version).Single(r => r.Key.Run == Id(run));

    protected static void Apply(IRecordStore store, long through, params StoredRecord[] records) =>
        store.Apply(new StoreBatch { Through = new IntakePosition("e", through), Records = records });

    protected static StoredRecord Opened(long sequence, char run) => Record(sequence, ObservationCodec.Encode(new RunOpened
    {
        RunId = Named(run), TargetPath = "/dev/mmcblk1", PlanName = "night", PlanVersion = "1", PlanText = "{}", HostName = "h", KernelRelease = "6.12", BootId = "b", AgentVersion = "0",
    }));

    protected static StoredRecord Closed(long sequence, char run) => Record(sequence, ObservationCodec.Encode(new RunClosed { RunId = Named(run) }));

    private static StoredRecord Identified(long sequence, char run) =>
        Record(sequence, ObservationCodec.Encode(new CardIdentified { RunId = Named(run), Identity = "identity" }));

    private static string Id(char run) => new(run, 32);

    private static RunId Named(char run) => new(Guid.Parse(Id(run)));
}
