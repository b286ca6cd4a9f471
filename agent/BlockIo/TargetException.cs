namespace Cardassay.Agent.BlockIo;

/// <summary>A target cannot be used; the message is one sentence that says what to do.</summary>
public sealed class TargetException(TargetErrorKind kind, string message) : Exception(message)
{
    /// <summary>Why.</summary>
    public TargetErrorKind Kind { get; } = kind;
}
