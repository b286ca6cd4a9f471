namespace Cardassay.Collector.Storage.Postgres;

/// <summary>The rows of one collector in a PostgreSQL database.</summary>
/// <param name="address">Where the database is.</param>
/// <param name="intakeLog">The collector's name among those of the database.</param>
internal sealed class PostgresPlace(PostgresAddress address, string intakeLog) : IStorePlace
{
    /// <inheritdoc/>
    public string Name => address.Name;

    /// <inheritdoc/>
    public IRecordStore Open() => PostgresStore.Open(address, intakeLog);

    /// <inheritdoc/>
    public IRecordStore? OpenForReading() => PostgresStore.OpenForReading(address, intakeLog);

    /// <inheritdoc/>
    public IReadOnlyList<string> Kept() => [];

    /// <inheritdoc/>
    public IRecordStore? OpenKept(string name) => null;

    /// <summary>A server checks its own pages; what it cannot read is mended there, and nothing is made anew in between.</summary>
    public string SetAside() => throw new StoreUnavailableException(
        $"What {address.Name} holds cannot be read. Mend it on the server, or restore it there; nothing was changed. Boards are received all the while.");

    /// <inheritdoc/>
    public void Delete() => PostgresStore.Delete(address, intakeLog);
}
