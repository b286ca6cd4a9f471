namespace Cardassay.Collector.Storage.LiteDb;

/// <summary>The database file of the data folder.</summary>
internal sealed class LiteDbPlace(string path) : IStorePlace
{
    /// <inheritdoc/>
    public string Name => $"the database {path}";

    /// <inheritdoc/>
    public IRecordStore Open() => LiteDbStore.Open(path);

    /// <inheritdoc/>
    public IRecordStore? OpenForReading() => LiteDbStore.OpenForReading(path);

    /// <inheritdoc/>
    public IReadOnlyList<string> Kept() => LiteDbStore.Kept(path);

    /// <inheritdoc/>
    public IRecordStore? OpenKept(string name)
    {
        try
        {
            return LiteDbStore.OpenToSalvage(name);
        }
        catch (StoreException)
        {
            return null;
        }
    }

    /// <inheritdoc/>
    public string SetAside()
    {
        try
        {
            return LiteDbStore.SetAside(path);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new StoreUnavailableException($"The damaged database {path} cannot be kept under another name: {e.Message}", e);
        }
    }

    /// <inheritdoc/>
    public void Delete()
    {
        try
        {
            LiteDbStore.Delete(path);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new StoreUnavailableException($"The database {path} cannot be removed: {e.Message}", e);
        }
    }
}
