using Cardassay.Collector.Analysis;

namespace Cardassay.Collector.Storage;

/// <summary>The order in which every store gives its records.</summary>
internal static class RecordOrder
{
    /// <summary>The same for sorting.</summary>
    internal static Comparer<RecordKey> ByKey { get; } = Comparer<RecordKey>.Create(Compare);

    internal static int Compare(RecordKey a, RecordKey b)
    {
        int epoch = string.CompareOrdinal(a.Epoch, b.Epoch);
        return epoch != 0 ? epoch : a.Sequence.CompareTo(b.Sequence);
    }
}
