using Cardassay.Collector.Analysis.Figures;
using Cardassay.Trials;

namespace Cardassay.Collector.Analysis.CardBoard;

/// <summary>The models of all metrics of the laboratory, one per key with the card's state left aside.</summary>
internal sealed class LaboratoryFits
{
    private readonly Dictionary<ComparabilityKey, CardBoardFit> _byKey = [];
    private readonly Lazy<Dictionary<(string Card, ComparabilityKey Key), int>> _places;

    private LaboratoryFits(IReadOnlyList<CardBoardFit> fits)
    {
        All = fits;
        foreach (CardBoardFit fit in fits)
        {
            _byKey.Add(fit.Key, fit);
        }

        _places = new(() => fits.SelectMany(f => f.Series.Select((s, k) => KeyValuePair.Create((s.Card, s.Key), k))).ToDictionary());
    }

    /// <summary>Random read first, sequential last, then by key.</summary>
    public IReadOnlyList<CardBoardFit> All { get; }

    /// <summary>Fits every key.</summary>
    /// <param name="series">The series of each card, cards by name.</param>
    /// <param name="previous">Fits of an earlier analysis, taken over where nothing of their key changed.</param>
    public static LaboratoryFits Of(IEnumerable<IReadOnlyList<SeriesRuns>> series, LaboratoryFits? previous = null)
    {
        (ComparabilityKey Key, SeriesRuns[] Series)[] keys =
        [
            .. series.SelectMany(s => s).GroupBy(s => s.KeyStateAside).OrderBy(g => TrialKinds.PlaceOf(g.Key.Kind)).ThenBy(g => g.Key.Text, StringComparer.Ordinal)
                .Select(g => (g.Key, g.ToArray())),
        ];
        var fits = new CardBoardFit[keys.Length];
        Parallel.For(0, fits.Length, i =>
        {
            CardBoardFit? known = previous?._byKey.GetValueOrDefault(keys[i].Key);
            fits[i] = known is not null && known.Series.SequenceEqual(keys[i].Series) ? known : CardBoardFit.Of(keys[i].Key, keys[i].Series, known);
        });
        return new LaboratoryFits(fits);
    }

    /// <summary>The model a card's key belongs to and the card's place in it; null when the card has no figure there.</summary>
    public (CardBoardFit Fit, int Place)? Find(string card, ComparabilityKey key) =>
        _places.Value.TryGetValue((card, key), out int place) ? (_byKey[key.StateAside()], place) : null;
}
