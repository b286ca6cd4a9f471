namespace Cardassay.Collector.Analysis.Profiles;

/// <summary>A profile file cannot be used.</summary>
/// <param name="errors">Every error, each with file, line and key.</param>
public sealed class ProfileFileException(IReadOnlyList<string> errors) : Exception(string.Join(Environment.NewLine, errors))
{
    /// <summary>Every error, as "FILE, line N, KEY: what is wrong".</summary>
    public IReadOnlyList<string> Errors { get; } = errors;
}
