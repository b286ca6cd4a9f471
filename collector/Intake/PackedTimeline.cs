using System.Collections;
using Cardassay.Trials;

namespace Cardassay.Collector.Intake;

/// <summary>
/// Operations and bytes of every second of a trial in two or three bytes a second instead of 24; the longest operation of each second,
/// which no report shows, is left out and reads 0.
/// </summary>
internal sealed class PackedTimeline : IReadOnlyList<TimelineSecond>
{
    private readonly byte[] _bytes;
    private readonly long _blockBytes;

    /// <summary>True when the bytes of every second are its operations times the size of a block, so that they need not be kept.</summary>
    private readonly bool _inBlocks;

    /// <param name="seconds">The timeline.</param>
    /// <param name="blockBytes">Bytes of one operation.</param>
    internal PackedTimeline(IReadOnlyList<TimelineSecond> seconds, long blockBytes)
    {
        Count = seconds.Count;
        _blockBytes = blockBytes;
        _inBlocks = seconds.All(s => unchecked(s.Operations * blockBytes) == s.Bytes);
        var bytes = new VarintWriter(3 * Count);
        TimelineSecond previous = default;
        foreach (TimelineSecond second in seconds)
        {
            bytes.AddSigned(unchecked(second.Operations - previous.Operations));
            if (!_inBlocks)
            {
                bytes.AddSigned(unchecked(second.Bytes - previous.Bytes));
            }

            previous = second;
        }

        _bytes = bytes.ToArray();
    }

    /// <inheritdoc/>
    public int Count { get; }

    /// <inheritdoc/>
    public TimelineSecond this[int index] => index >= 0 && index < Count
        ? this.Skip(index).First()
        : throw new ArgumentOutOfRangeException(nameof(index));

    /// <inheritdoc/>
    public IEnumerator<TimelineSecond> GetEnumerator()
    {
        int at = 0;
        long operations = 0;
        long bytes = 0;
        for (int i = 0; i < Count; i++)
        {
            operations = unchecked(operations + Varint.ReadSigned(_bytes, ref at));
            bytes = _inBlocks ? unchecked(operations * _blockBytes) : unchecked(bytes + Varint.ReadSigned(_bytes, ref at));
            yield return new TimelineSecond(operations, bytes, 0);
        }
    }

    /// <inheritdoc/>
    IEnumerator IEnumerable.GetEnumerator() => GetEnumerator();
}
