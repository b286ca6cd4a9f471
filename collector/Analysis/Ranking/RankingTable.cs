using Cardassay.Collector.Analysis.Figures;
using Cardassay.Plans;
using Cardassay.Trials;

namespace Cardassay.Collector.Analysis.Ranking;

/// <summary>The ranking of all cards measured in one context, for one profile.</summary>
public sealed record RankingTable
{
    /// <summary>Name of the profile.</summary>
    public required string Profile { get; init; }

    /// <summary>Where and how the figures were measured.</summary>
    public required MeasuringContext Context { get; init; }

    /// <summary>Key of each metric, in the order of the profile.</summary>
    public required IReadOnlyList<ComparabilityKey> Keys { get; init; }

    /// <summary>Joint level of everything the table says of the order of cards.</summary>
    public double JointLevel { get; init; }

    /// <summary>Boards the cards were measured on, by name.</summary>
    public IReadOnlyList<string> Boards { get; init; } = [];

    /// <summary>Parts that no card links: 1 when everything is linked.</summary>
    public int Parts { get; init; }

    /// <summary>Runs that would link the parts, the first of them first.</summary>
    public IReadOnlyList<LinkingRun> Links { get; init; } = [];

    /// <summary>All cards: those that fail a floor behind all others, then by composite descending, then by name.</summary>
    public required IReadOnlyList<RankedCard> Cards { get; init; }

    /// <summary>Ranking per claimed product and capacity.</summary>
    public IReadOnlyList<RankedProduct> Products { get; init; } = [];

    /// <summary>Cards with a figure in this context that lack others, with what they lack.</summary>
    public IReadOnlyList<UnrankedCard> Unranked { get; init; } = [];

    /// <summary>Metrics of which more does not count beyond what the profile calls enough, with the cards that are surely there.</summary>
    public IReadOnlyList<(TrialKind Kind, double Enough, IReadOnlyList<string> Cards)> Enough { get; init; } = [];

    /// <summary>Kendall tau-b between the order of the point values and the order under drawn weights: 5th percentile of 1,000 draws. Null below 2 cards.</summary>
    public double? SensitivityTau { get; init; }

    /// <summary>Seed of the draws.</summary>
    public int SensitivitySeed { get; init; }

    /// <summary>Price against performance.</summary>
    public IReadOnlyList<PricedCard> Prices { get; init; } = [];

    /// <summary>The same for products.</summary>
    public IReadOnlyList<PricedProduct> ProductPrices { get; init; } = [];

    /// <summary>What would tell each card from the next ones in the list, where they are not told apart.</summary>
    public IReadOnlyList<PairSeparation> Separations { get; init; } = [];

    /// <summary>The model behind it; its cards stand in the order of <see cref="Cards"/>.</summary>
    internal RankOrder? Order { get; init; }

    /// <summary>Weights, references and floors.</summary>
    internal Profiles.UseProfile? UsedProfile { get; init; }

    /// <summary>
    /// The part of a card that what weighs most was measured in, where that is not all of it: "in the first 1 GiB"; empty for the whole card, or where it is
    /// not known. A card may do otherwise beyond it.
    /// </summary>
    public string Part => Keys.Count == 0 || Keys[0].Range is { IsUnknown: true } or { IsWhole: true } ? ""
        : Context.Target == TargetKind.Folder ? $"in a file of {ByteText.Of(Keys[0].Range.LengthBytes)}" : $"in the {Keys[0].Range.Text}";

    /// <summary>What holds of the order, as a sentence.</summary>
    public string Statement
    {
        get
        {
            string cards = Count(Cards.Count, "card", "cards"), boards = Count(Boards.Count, "board", "boards");
            string parts = Parts <= 1
                ? ""
                : FormattableString.Invariant($" The cards fall into {Parts} parts that no card links by having been on boards of both: between them no order is known, and every rank spans the other parts.");
            string links = Links.Count == 0 ? "" : $" {string.Join("; ", Links.Take(3).Select(l => $"{l.Card} on {l.Board}"))} would link them.";
            return FormattableString.Invariant(
                $"{cards} on {boards}{(Parts <= 1 ? ", all linked" : "")}: everything said of their order is true together with {100 * JointLevel:0} %.") + parts + links
                + (Part.Length > 0 ? $" They were measured {Part}." : "");
        }
    }

    private static string Count(int count, string one, string many) => FormattableString.Invariant($"{count} {(count == 1 ? one : many)}");
}
