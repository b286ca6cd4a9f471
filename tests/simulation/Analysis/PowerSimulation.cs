using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.CrossChecks;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Fixtures;
using Cardassay.Trials;
using Xunit.Abstractions;

namespace Cardassay.Simulation.Tests.Analysis;

/// <summary>How often is a planted fault found, and is anything else accused?</summary>
public class PowerSimulation(ITestOutputHelper output)
{
    private const double Least = 0.8;
    private const double MostOthers = 0.05;

    private static int Laboratories => Scale.Of(100, 1000);

    private static Condition Usual { get; } = new() { Name = "12 cards on 3 boards in turn, nights scatter as repetitions", Nights = 12, Metrics = 2 };

    [Fact]
    public void Wear_TwoPercentANightOnThreeBoardsInTurn_IsFound() => Plant(
        "card wears 2 % a night over 12 nights on three boards in turn", Usual, d => d is { Card: 5, Kind: TrialKind.RandomWrite } ? Math.Pow(0.98, d.Night) : 1, CheckIds.Drift, "T0005");

    [Fact]
    public void Level_TwentyPercentDropWhileMoving_IsFoundAndIsTheCardsOwn() => Plant(
        "card drops 20 % after 7 of 12 nights while moving between three boards", Usual, d => d is { Card: 5, Night: >= 7 } ? 0.8 : 1, CheckIds.LevelChange, "T0005");

    [Fact]
    public void Level_TenPercentInEighteenNights_IsFound() => Plant(
        "card drops 10 % after 9 of 18 nights", Usual with { Nights = 18 }, d => d is { Card: 2, Kind: TrialKind.RandomRead, Night: >= 9 } ? 0.9 : 1, CheckIds.LevelChange, "T0002");

    [Fact]
    public void Outliers_ThreeOfTwentyFour_AreFoundTogether() => Plant(
        "three of 24 runs 25 % low", Usual with { Nights = 24 }, d => d is { Card: 2, Kind: TrialKind.RandomRead, Night: 4 or 11 or 19 } ? 0.75 : 1, CheckIds.Outlier, "T0002");

    [Fact]
    public void CardOnBoard_TwentyPercentOnOneBoardOnly_IsFound() => Plant(
        "card 20 % slow on one of its three boards", Usual, d => d is { Card: 7, Board: 2 } ? 0.8 : 1, CheckIds.RigDisagreement, "T0007");

    [Fact]
    public void Board_FivePercentSlowOfTwo_IsFound() => Plant(
        "one of two boards 5 % slow, 12 cards, 8 nights", Usual with { Boards = 2, Nights = 8, Metrics = 4 }, d => d.Board == 1 ? 0.95 : 1, CheckIds.BoardEffect, null, "board-b");

    [Fact]
    public void Board_EightPercentSlowOfThree_IsFoundAndNamed() => Plant(
        "one of three boards 8 % slow, 12 cards, 6 nights", Usual with { Nights = 6, Metrics = 4 }, d => d.Board == 1 ? 0.92 : 1, CheckIds.BoardEffect, null, "board-b");

    [Theory]
    [InlineData(0.95)]
    [InlineData(1.05)]
    public void FirstRun_FivePercentOff_IsFound(double factor) => Plant(
        $"first of three repetitions {100 * (factor - 1):+0;-0} %", Usual with { Nights = 4, NightScatter = 0, RunsPerNight = 3, Repetitions = 1 },
        d => d.RunOfNight == 0 && d.Kind == TrialKind.RandomRead ? factor : 1, CheckIds.FirstRun, null, "random read");

    [Fact]
    public void Card_OneRelabelledInTen_IsFound() => Plant(
        "one specimen in ten with 0.6 times the random write", Usual with { Cards = 10, Specimens = 0.03 }, d => d.Card == 7 && d.Kind == TrialKind.RandomWrite ? 0.6 : 1, CheckIds.UnlikeItsProduct, "T0007");

    [Fact]
    public void Separation_ProposedRuns_TellApartAboutAsOftenAsNot()
    {
        int apart = 0, withTwice = 0, asked = 0;
        for (int i = 0; i < Laboratories; i++)
        {
            int seed = i;
            SyntheticLaboratory Of(int runs) => new()
            {
                Cards = 8, RunsPerCard = runs, Noise = 0.03, Specimens = 0, Seed = seed, Effect = d => d.Card switch { 0 => 1, 1 => 0.965, _ => 1.0 / d.Card },
                Trials = [(TrialKind.RandomRead, 6000, TrialRole.Measured)],
            };
            var one = new UseProfile("one", [new(TrialKind.RandomRead, 1, 1500)]);
            if (Analyser.Run(Of(8).Build(), one).Rankings[0].Separations.FirstOrDefault(s => s.Better is "T0000" or "T0001" && s.Worse is "T0000" or "T0001") is not { IsReachable: true } pair)
            {
                continue;
            }

            asked++;
            int more = Math.Max(pair.MoreOnBetter, pair.MoreOnWorse);
            apart += Told(Analyser.Run(Of(8 + more).Build(), one)) ? 1 : 0;
            withTwice += Told(Analyser.Run(Of(8 + 2 * more).Build(), one)) ? 1 : 0;
        }

        output.WriteLine($"pairs 3.5 % apart, 3 % noise: of {asked} proposals {100.0 * apart / asked:0} % tell apart as proposed, {100.0 * withTwice / asked:0} % with twice as many");
        Assert.True(asked >= Laboratories / 5);
        Assert.True(apart >= 0.3 * asked);
        Assert.True(withTwice >= 0.5 * asked);

        static bool Told(AnalysisResult result) => !result.Rankings[0].Separations.Any(s => s.Better is "T0000" or "T0001" && s.Worse is "T0000" or "T0001");
    }

    /// <summary>Plants a fault; finding it means finding it in the card or board it was planted in, and nobody else may be accused of anything.</summary>
    private void Plant(string fault, Condition condition, Func<SyntheticLaboratory.Draw, double> effect, string check, string? card, string? inText = null)
    {
        int found = 0, others = 0;
        object gate = new();
        var which = new SortedDictionary<string, int>(StringComparer.Ordinal);
        Parallel.For(0, Laboratories, i =>
        {
            AnalysisResult result = Analyser.Run(condition.Laboratory(3000 + i, effect).Build(), UseProfile.SystemDisk);
            bool isFound = card is null
                ? result.LaboratoryFindings.Any(f => f.Id == check && f.Text.Contains(inText!, StringComparison.Ordinal))
                : result.Card(card)!.Findings.Any(f => f.Finding.Id == check && (check is CheckIds.UnlikeItsProduct or CheckIds.RigDisagreement || f.Finding.Text.Contains("the card's own", StringComparison.Ordinal)));
            string[] accused =
            [
                .. result.Cards.Where(c => c.Name != card).SelectMany(c => c.Findings.Select(f => f.Finding.Id)).Distinct(),
                .. result.LaboratoryFindings.Where(f => f.Id != check || (inText is not null && !f.Text.Contains(inText, StringComparison.Ordinal)) || card is not null).Select(f => f.Id + " of the laboratory").Distinct(),
            ];
            lock (gate)
            {
                found += isFound ? 1 : 0;
                others += accused.Length > 0 ? 1 : 0;
                foreach (string id in accused)
                {
                    which[id] = which.GetValueOrDefault(id) + 1;
                }
            }
        });

        output.WriteLine($"{fault}: found in {100.0 * found / Laboratories:0.0} %, something else accused in {100.0 * others / Laboratories:0.0} % of {Laboratories} {string.Join(", ", which.Select(w => $"{w.Key} {w.Value}"))}");
        Assert.True(found >= Least * Laboratories - (Scale.IsFull ? 0 : 2 * Math.Sqrt(Laboratories * Least * (1 - Least))), $"found in {found} of {Laboratories}");
        Assert.True(others <= (Scale.IsFull ? 2 * MostOthers * Laboratories : Scale.Most(Laboratories, MostOthers)), $"others accused in {others} of {Laboratories}");
    }
}
