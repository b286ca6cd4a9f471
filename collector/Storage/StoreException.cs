namespace Cardassay.Collector.Storage;

/// <summary>
/// The database engine failed and this instance is of no use any more: it is disposed and opened again. What is on the disk may be as good as
/// before.
/// </summary>
public class StoreException : Exception
{
    /// <summary>Creates one.</summary>
    public StoreException(string message, Exception? inner = null)
        : base(message, inner)
    {
    }

    /// <summary>True when it was for want of room on a disk: only room helps, and then it goes on by itself.</summary>
    public bool NoRoom { get; init; }
}
