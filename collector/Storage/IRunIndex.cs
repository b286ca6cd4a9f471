namespace Cardassay.Collector.Storage;

/// <summary>
/// Which records of which runs a store holds, and what is kept of runs that are over. It moves with the records, in the same
/// transaction: a run to which a record comes has nothing kept any more. A collector keeps for its own runs only.
/// </summary>
public interface IRunIndex
{
    /// <summary>
    /// True when every record of the store is in it; false in a store of an earlier version until <see cref="ToKeep"/> was asked: then
    /// only the records themselves tell everything.
    /// </summary>
    bool IsWhole { get; }

    /// <summary>All runs by epoch. They are read in sets while they are enumerated.</summary>
    /// <param name="version">What is kept in another version counts as not kept.</param>
    /// <exception cref="StoreDamagedException">Some are missing.</exception>
    IEnumerable<StoredRun> All(int version);

    /// <summary>Records of one journal between two sequences, both included, as <see cref="IRecordStore.Records"/> gives them.</summary>
    IEnumerable<StoredRecord> Records(string epoch, long first, long last);

    /// <summary>Runs of this collector that are over and of which nothing is kept in this version.</summary>
    /// <param name="version">The version.</param>
    /// <param name="most">Most of them in the answer.</param>
    IReadOnlyList<StoredRun> ToKeep(int version, int most);

    /// <summary>Keeps what was made of runs. One that has changed since is left out.</summary>
    void Keep(IReadOnlyCollection<StoredRun> runs, int version);

    /// <summary>Lets go of what is kept of these runs, since it cannot be used. A store that was opened to be read does nothing.</summary>
    void Forget(IReadOnlyCollection<StoredRun> runs);
}
