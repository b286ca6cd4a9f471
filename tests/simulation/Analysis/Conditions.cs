using Cardassay.Fixtures;
using Cardassay.Trials;
using MathNet.Numerics.Distributions;
using MathNet.Numerics.Random;

namespace Cardassay.Simulation.Tests.Analysis;

/// <summary>
/// One kind of laboratory: how many cards, boards and nights, and how figures scatter. These are the conditions the method names, set apart from the code
/// that is tried on them: nothing here knows how that code works.
/// </summary>
internal sealed record Condition
{
    public required string Name { get; init; }

    public int Cards { get; init; } = 12;

    public int Boards { get; init; } = 3;

    /// <summary>Nights in which every card is measured once.</summary>
    public int Nights { get; init; } = 8;

    /// <summary>Runs of a card in one night.</summary>
    public int RunsPerNight { get; init; } = 1;

    /// <summary>Repetitions of a metric in a run.</summary>
    public int Repetitions { get; init; } = 3;

    /// <summary>Relative standard deviation of a repetition.</summary>
    public double Noise { get; init; } = 0.02;

    /// <summary>What a card's night adds, in standard deviations of a repetition.</summary>
    public double NightScatter { get; init; } = 1;

    /// <summary>What a night adds to all cards of a board alike, in standard deviations of a repetition.</summary>
    public double BoardNightScatter { get; init; }

    /// <summary>Board b's factor.</summary>
    public double SlowBoard { get; init; } = 1;

    /// <summary>The steadiest card scatters this many times less than the wildest one.</summary>
    public double Spread { get; init; } = 1;

    /// <summary>True for Student's t with 3 degrees of freedom in place of a normal.</summary>
    public bool HeavyTails { get; init; }

    /// <summary>True when each card's night is one of two levels, 4 standard deviations of a repetition apart.</summary>
    public bool BimodalNights { get; init; }

    /// <summary>Correlation of a figure with the one before it, through runs and nights; 0 for none.</summary>
    public double Correlation { get; init; }

    /// <summary>True when every card wears by 0.2 % a night.</summary>
    public bool Worn { get; init; }

    /// <summary>True when cards have between 1 and <see cref="Nights"/> nights.</summary>
    public bool UnequalNights { get; init; }

    /// <summary>Board of a card in a night; by default the cards move on by one board every night.</summary>
    public Func<int, int, int, int> BoardOf { get; init; } = (card, night, boards) => (card + night) % boards;

    /// <summary>Specimens' standard deviation between cards; a third of the cards tie exactly whatever it is.</summary>
    public double Specimens { get; init; } = 0.04;

    /// <summary>Metrics measured, random read first.</summary>
    public int Metrics { get; init; } = 1;

    private static readonly (TrialKind Kind, double Figure)[] Kinds =
        [(TrialKind.RandomRead, 2400), (TrialKind.RandomWrite, 800), (TrialKind.SequentialRead, 32), (TrialKind.SequentialWrite, 21)];

    /// <summary>True levels on logarithms, card by card.</summary>
    public double[] Truth(int seed)
    {
        var normal = new Normal(0, 1, new MersenneTwister(seed * 7 + 1, threadSafe: false));
        return [.. Enumerable.Range(0, Cards).Select(k => k % 3 == 0 ? 0 : Specimens * normal.Sample())];
    }

    /// <summary>A laboratory of this kind.</summary>
    /// <param name="seed">Seed of everything random.</param>
    /// <param name="effect">What is planted; null for nothing.</param>
    public SyntheticLaboratory Laboratory(int seed, Func<SyntheticLaboratory.Draw, double>? effect = null)
    {
        double[] truth = Truth(seed);
        var random = new MersenneTwister(seed, threadSafe: false);
        var normal = new Normal(0, 1, random);
        var tails = new StudentT(0, 1, 3, random);
        double Draw() => HeavyTails ? tails.Sample() / Math.Sqrt(3) : normal.Sample(); // both with a standard deviation of 1
        double[] scatter = [.. Enumerable.Range(0, Cards).Select(k => Noise * (Spread == 1 ? 1 : Math.Pow(Spread, (double)k / Math.Max(1, Cards - 1) - 0.5)))];
        var nights = new Dictionary<(int Card, int Night, TrialKind Kind), double>();
        var boardNights = new Dictionary<(int Board, int Night), double>();
        var before = new Dictionary<(int Card, TrialKind Kind), double>();
        return new SyntheticLaboratory
        {
            Cards = Cards,
            Boards = Boards,
            RunsPerCard = Nights * RunsPerNight,
            RunsPerNight = RunsPerNight,
            Noise = 0,
            Specimens = 0,
            Seed = seed,
            BoardOf = (card, run, boards) => BoardOf(card, run / RunsPerNight, boards),
            Trials = [.. Enumerable.Range(0, Metrics).SelectMany(m => Enumerable.Repeat((Kinds[m].Kind, Kinds[m].Figure, TrialRole.Measured), Repetitions))],
            Effect = d =>
            {
                double night = Once(nights, (d.Card, d.Night, d.Kind), () => BimodalNights ? (random.NextDouble() < 0.5 ? 2 : -2) : NightScatter * Draw());
                double board = BoardNightScatter == 0 ? 0 : Once(boardNights, (d.Board, d.Night), () => BoardNightScatter * Draw());
                double own = Draw();
                if (Correlation > 0)
                {
                    own = Correlation * before.GetValueOrDefault((d.Card, d.Kind)) + Math.Sqrt(1 - Correlation * Correlation) * own;
                    before[(d.Card, d.Kind)] = own;
                }

                return Math.Exp(truth[d.Card] + scatter[d.Card] * (own + night) + Noise * board) * (d.Board == 1 ? SlowBoard : 1) * (Worn ? Math.Pow(0.998, d.Night) : 1)
                    * (effect?.Invoke(d) ?? 1);
            },
        };
    }

    private static double Once<TKey>(Dictionary<TKey, double> drawn, TKey key, Func<double> draw)
        where TKey : notnull
    {
        if (!drawn.TryGetValue(key, out double value))
        {
            drawn.Add(key, value = draw());
        }

        return value;
    }
}

/// <summary>The conditions under which what is said of order must hold, and those in which a check must stay silent.</summary>
internal static class Conditions
{
    // Some cards stay on one board and a few tie the boards together, as in a laboratory where cards have their slots.
    private static int AtHome(int card, int night, int boards) => card % 4 == 0 ? (card / 4 + night) % boards : card % boards;

    /// <summary>METHOD rule 8.</summary>
    public static IReadOnlyList<Condition> Joint { get; } =
    [
        new() { Name = "5 cards, 1 board, 2 nights", Cards = 5, Boards = 1, Nights = 2 },
        new() { Name = "5 cards, 2 boards, 8 nights", Cards = 5, Boards = 2, Nights = 8 },
        new() { Name = "18 cards, 1 board, 3 nights", Cards = 18, Boards = 1, Nights = 3 },
        new() { Name = "18 cards, 3 boards, one 8 % slow, 2 nights", Cards = 18, Nights = 2, SlowBoard = 0.92 },
        new() { Name = "18 cards, 4 boards, one 8 % slow, 4 nights, cards at home", Cards = 18, Boards = 4, Nights = 4, SlowBoard = 0.92, BoardOf = AtHome },
        new() { Name = "18 cards, 3 boards, one 8 % slow, each card on one board", Cards = 18, Nights = 6, SlowBoard = 0.92, BoardOf = (card, _, boards) => card % boards },
        new() { Name = "50 cards, 4 boards, one 8 % slow, 3 nights", Cards = 50, Boards = 4, Nights = 3, SlowBoard = 0.92 },
        new() { Name = "50 cards, 1 board, 8 nights", Cards = 50, Boards = 1 },
        new() { Name = "18 cards, 1 to 8 nights each", Cards = 18, UnequalNights = true },
        new() { Name = "50 cards, 1 to 5 nights each", Cards = 50, Nights = 5, UnequalNights = true },
        new() { Name = "18 cards, nights scatter not at all", Cards = 18, Nights = 4, NightScatter = 0 },
        new() { Name = "18 cards, nights scatter twice as much", Cards = 18, Nights = 4, NightScatter = 2 },
        new() { Name = "18 cards, two runs a night, nights scatter twice as much", Cards = 18, Nights = 3, RunsPerNight = 2, NightScatter = 2 },
        new() { Name = "18 cards, scatter 5 : 1", Cards = 18, Nights = 6, Spread = 5 },
        new() { Name = "5 cards, scatter 5 : 1, 4 nights", Cards = 5, Nights = 4, Spread = 5 },
        new() { Name = "50 cards, scatter 5 : 1, 3 nights", Cards = 50, Nights = 3, Spread = 5 },
        new() { Name = "18 cards, tails t(3)", Cards = 18, Nights = 5, HeavyTails = true },
        new() { Name = "18 cards, bimodal nights", Cards = 18, Nights = 5, BimodalNights = true },
        new() { Name = "50 cards, bimodal nights, 3 nights", Cards = 50, Nights = 3, BimodalNights = true },
        new() { Name = "18 cards, four metrics, 4 nights", Cards = 18, Nights = 4, Metrics = 4, SlowBoard = 0.92 },
        new() { Name = "18 cards, a night moves a board's cards together, 4 nights", Cards = 18, Nights = 4, BoardNightScatter = 1 },
        new() { Name = "18 cards at home, a night moves a board's cards together, 6 nights", Cards = 18, Nights = 6, BoardNightScatter = 1, BoardOf = AtHome },
    ];

    /// <summary>METHOD rules 5, 6, 9, 10 and 11: honest laboratories.</summary>
    public static IReadOnlyList<Condition> Honest { get; } =
    [
        new() { Name = "iid, 12 cards, 12 nights", Nights = 12, NightScatter = 0, Metrics = 4 },
        new() { Name = "nights scatter as repetitions, 12 cards, 12 nights", Nights = 12, Metrics = 4 },
        new() { Name = "nights scatter as repetitions, 40 cards, 8 nights", Cards = 40, Nights = 8, Metrics = 2 },
        new() { Name = "tails t(3), 12 cards, 12 nights", Nights = 12, HeavyTails = true, Metrics = 4 },
        new() { Name = "bimodal nights, 12 cards, 12 nights", Nights = 12, BimodalNights = true, Metrics = 4 },
        new() { Name = "correlated 0.5, 12 cards, 12 nights", Nights = 12, Correlation = 0.5, NightScatter = 0, Metrics = 4 },
        new() { Name = "correlated 0.5 night by night, 12 cards, 16 nights", Nights = 16, Correlation = 0.5, NightScatter = 0, Repetitions = 1, Metrics = 4 },
        new() { Name = "all worn 0.2 % a night, 12 cards, 12 nights", Nights = 12, Worn = true, Metrics = 4 },
        new() { Name = "scatter 5 : 1, 12 cards, 10 nights", Nights = 10, Spread = 5, Metrics = 4 },
        new() { Name = "a night moves a board's cards together, 12 cards, 12 nights", Nights = 12, BoardNightScatter = 1, Metrics = 4 },
        new() { Name = "a night moves a board's cards together, 24 cards, 5 nights", Cards = 24, Nights = 5, BoardNightScatter = 1, Metrics = 4 },
        new() { Name = "a night moves a board's cards together, 12 cards, 10 nights, three runs a night", Nights = 10, RunsPerNight = 3, Repetitions = 1, BoardNightScatter = 1, Metrics = 4 },
    ];
}
