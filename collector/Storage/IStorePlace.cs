namespace Cardassay.Collector.Storage;

/// <summary>Where a collector's store lies: how it is opened, looked into, kept and removed.</summary>
internal interface IStorePlace
{
    /// <summary>What a sentence calls it.</summary>
    string Name { get; }

    /// <summary>Opens the store to write to it, or makes one.</summary>
    /// <exception cref="StoreUnavailableException">It cannot be used now, and nothing is wrong with what it holds.</exception>
    /// <exception cref="StoreException">It is damaged.</exception>
    IRecordStore Open();

    /// <summary>Opens the store to read it and changes nothing; null when there is none.</summary>
    /// <exception cref="StoreUnavailableException">It cannot be used now.</exception>
    /// <exception cref="StoreException">It is damaged.</exception>
    IRecordStore? OpenForReading();

    /// <summary>Stores that were kept earlier because they could not be read to their end, by the name they have now.</summary>
    IReadOnlyList<string> Kept();

    /// <summary>Opens one of <see cref="Kept"/> to take out of it what can be read; null when nothing can.</summary>
    IRecordStore? OpenKept(string name);

    /// <summary>Keeps the store under another name, which is returned, so that <see cref="Open"/> makes a new one.</summary>
    /// <exception cref="StoreUnavailableException">It cannot be kept so; nothing was changed.</exception>
    string SetAside();

    /// <summary>Removes what was projected from this intake log, and nothing of another collector.</summary>
    /// <exception cref="StoreException">It cannot be used.</exception>
    void Delete();
}
