namespace Cardassay.Collector.Storage;

/// <summary>The database engine failed. The projection is reopened, and made again from the intake log if that fails too.</summary>
public class StoreException : Exception
{
    /// <summary>Creates one.</summary>
    public StoreException(string message, Exception? inner = null)
        : base(message, inner)
    {
    }
}
