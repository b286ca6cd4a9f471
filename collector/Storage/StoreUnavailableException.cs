namespace Cardassay.Collector.Storage;

/// <summary>
/// The store cannot be used now, but nothing is wrong with what it holds: the server is away, its disk is full, a newer version made
/// it. Time or a person helps; making it again from the intake log would not.
/// </summary>
public class StoreUnavailableException : StoreException
{
    /// <summary>Creates one.</summary>
    public StoreUnavailableException(string message, Exception? inner = null)
        : base(message, inner)
    {
    }
}
