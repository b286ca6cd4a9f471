namespace Cardassay.Collector.Notices;

/// <summary>What the loop of the messages last said that a person should know, for `status`, which another thread asks.</summary>
internal sealed class NoticeTroubles
{
    private volatile IReadOnlyList<string> _lines = [];

    /// <summary>Sentences; none when all is well or messages are off.</summary>
    internal IReadOnlyList<string> Lines
    {
        get => _lines;
        set => _lines = value;
    }
}
