using Cardassay.Collector.Files;
using Cardassay.Collector.Storage.LiteDb;

namespace Cardassay.Collector.Storage.Reading;

/// <summary>
/// Where a command that only reads finds the store: what lies on the disk is never written to, and what the log holds beyond it goes into a file in the
/// folder for temporary files, which is gone when the command ends.
/// </summary>
/// <param name="place">Where the store lies.</param>
/// <param name="isInLog">Whether the intake log has a place.</param>
/// <param name="make">Makes the store above; null for that file.</param>
internal sealed class ReadingPlace(IStorePlace place, Func<IntakePosition, bool> isInLog, Func<IRecordStore>? make) : IStorePlace, IDisposable
{
    private readonly Lazy<string> _folder = new(() => Scratch.MakeFolder("reading"));
    private bool _isUnreadable;
    private int _made;

    /// <inheritdoc/>
    public string Name => place.Name;

    /// <inheritdoc/>
    public IRecordStore Open() => new OverlayStore(
        _isUnreadable ? null : place.OpenForReading(), isInLog, make ?? (() => LiteDbStore.Open(Path.Combine(_folder.Value, FormattableString.Invariant($"above-{++_made}.db")))));

    /// <inheritdoc/>
    public IRecordStore? OpenForReading() => Open();

    /// <inheritdoc/>
    public IReadOnlyList<string> Kept() => place.Kept();

    /// <inheritdoc/>
    public IRecordStore? OpenKept(string name) => place.OpenKept(name);

    /// <summary>Leaves the store where it is and does without it.</summary>
    public string SetAside()
    {
        _isUnreadable = true;
        return place.Name;
    }

    /// <inheritdoc/>
    public void Delete() => throw new NotSupportedException("It is for reading.");

    public void Dispose()
    {
        if (_folder.IsValueCreated)
        {
            Directory.Delete(_folder.Value, recursive: true);
        }
    }
}
