using Cardassay.Collector.Analysis.Figures;

namespace Cardassay.Collector.Analysis.Cards;

/// <summary>Figures of one card under one key before the sequence rules have looked at them.</summary>
internal sealed class KeyFigures(ComparabilityKey key)
{
    public ComparabilityKey Key { get; } = key;

    public List<MetricValue> Values { get; } = [];

    public List<SetAsideValue> SetAside { get; } = [];

    /// <summary>Operations over the limit of a stall in all trials of the key.</summary>
    public long Stalls { get; set; }

    /// <summary>Sequences of the values; to be asked for only when all values are in.</summary>
    public IReadOnlyList<(int Start, int Length)> Sequences => field ??= Cards.Sequences.Of(Values);
}
