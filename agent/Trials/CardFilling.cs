namespace Cardassay.Agent.Trials;

/// <summary>Follows through a run what the card has been written with: the measured part of its state.</summary>
/// <param name="before">What was written before the run; null when nothing is known of it, and then the run does not say either.</param>
/// <param name="map">What the run wrote where.</param>
/// <param name="cardBytes">Size of the device.</param>
/// <param name="limits">Counts what the run writes.</param>
internal sealed class CardFilling(CardHistory? before, ContentMap map, long cardBytes, RunLimits limits)
{
    private long? _wholeAtBytes;
    private bool[] _written = [];

    /// <summary>Pieces the run wrote from end to end.</summary>
    public FilledPieces InRun => FilledPieces.Of(_written);

    /// <summary>Bytes since the run had written the device whole; null when it did not.</summary>
    public long? SinceWholeInRunBytes => limits.BytesWritten - _wholeAtBytes;

    /// <summary>The state now; null when it is not known.</summary>
    public CardHistory? Now => before?.After(limits.BytesWritten, SinceWholeInRunBytes, InRun);

    /// <summary>Takes in that the whole device was written by something that is not in the map.</summary>
    public void Whole()
    {
        _written = [.. map.WrittenPieces().Select(_ => true)];
        _wholeAtBytes = limits.BytesWritten;
    }

    /// <summary>Looks again after something was written.</summary>
    public void Look()
    {
        // What was written stays written, also where a proof has made its content unknown since.
        bool[] now = map.WrittenPieces();
        _written = _written.Length == 0 ? now : [.. now.Zip(_written, (a, b) => a || b)];
        if (_wholeAtBytes is null && cardBytes >= FilledPieces.PieceBytes && Array.TrueForAll(_written, piece => piece))
        {
            _wholeAtBytes = limits.BytesWritten;
        }
    }
}
