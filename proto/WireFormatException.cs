namespace Cardassay.Wire;

/// <summary>Bytes that should be a message of ours are not one. The message says which field is wrong.</summary>
public sealed class WireFormatException : Exception
{
    /// <summary>Creates one.</summary>
    public WireFormatException(string message, Exception? inner = null)
        : base(message, inner)
    {
    }
}
