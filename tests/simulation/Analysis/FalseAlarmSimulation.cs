using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.CrossChecks;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Fixtures;
using Cardassay.Trials;
using Xunit.Abstractions;

namespace Cardassay.Simulation.Tests.Analysis;

/// <summary>How often does each cross-check find something in laboratories where nothing is wrong?</summary>
public class FalseAlarmSimulation(ITestOutputHelper output)
{
    private const int Cards = 12;

    // Rate a check states: per laboratory, except the change search, which states it per card.
    private static readonly (string Check, double Rate, bool PerCard)[] Stated =
    [
        (CheckIds.FirstRun, 0.04, false), // 1 % per plan and metric, four metrics
        (CheckIds.LevelChange, 0.01, true),
        (CheckIds.WarmUp, 0.01, true),
        (CheckIds.Outlier, 0.01, false),
        (CheckIds.Drift, 0.01, false),
        (CheckIds.ChangedDuringRun, 0.01, false),
        (CheckIds.BoardEffect, 0.01, false),
        (CheckIds.RigDisagreement, 0.01, false),
        (CheckIds.UnlikeItsProduct, 0.01, false),
        (CheckIds.UsedAgainstNew, 0.01, false),
        (CheckIds.BusLimited, 0, false),
        (CheckIds.AboveBusCeiling, 0, false),
        (CheckIds.SpoiltConditions, 0, false),
        (CheckIds.Clock, 0, false),
    ];

    [Fact]
    public void CleanLaboratories_NormalNoise_StayAtTheStatedRates()
    {
        int laboratories = Scale.Of(200, 2000);
        Dictionary<string, (int Laboratories, int Cards)> alarms = Count(laboratories, seed => Laboratory(seed));
        Print("clean, 2 % noise", laboratories, alarms);
        foreach ((string check, double rate, bool perCard) in Stated)
        {
            (int found, int cards) = alarms.GetValueOrDefault(check);
            int trials = perCard ? laboratories * Cards : laboratories;
            int most = Scale.Most(trials, rate);
            Assert.True((perCard ? cards : found) <= most, $"{check}: {(perCard ? cards : found)} of {trials}, at most {most} expected");
        }

        Assert.Empty(alarms.Keys.Except(Stated.Select(s => s.Check)));
    }

    [Fact]
    public void CleanLaboratories_StallsAndRunNoise_RankTestsStayAtTheirRates()
    {
        // Noise real cards have: 3 % of figures 20 % low, and 1 % that a whole run shares. The tests that assume normal noise (outliers) may speak:
        // those values are outliers. The rank tests must not.
        int laboratories = Scale.Of(100, 1000);
        Dictionary<string, (int Laboratories, int Cards)> alarms = Count(laboratories, seed => Laboratory(seed, stalls: 0.03, runNoise: 0.01));
        Print("stalls and run noise", laboratories, alarms);
        foreach (string check in new[] { CheckIds.FirstRun, CheckIds.Drift, CheckIds.BoardEffect, CheckIds.ChangedDuringRun, CheckIds.UnlikeItsProduct })
        {
            double rate = Stated.Single(s => s.Check == check).Rate;
            Assert.True(alarms.GetValueOrDefault(check).Laboratories <= Scale.Most(laboratories, rate), check);
        }
    }

    private static MasterData Laboratory(int seed, double stalls = 0, double runNoise = 0) => new SyntheticLaboratory
    {
        Cards = Cards,
        Boards = 3,
        RunsPerCard = 24,
        RunsPerNight = 3,
        Seed = seed,
        Stalls = stalls,
        RunNoise = runNoise,
        Noise = 0.02,
        Specimens = 0.02,
        BoardOf = (card, run, boards) => (card + run / 12) % boards,
        ClaimOf = c => new Cardassay.Identity.Claim
        {
            Tag = SyntheticLaboratory.Tag(c), Maker = "Quillon", Product = c < 6 ? "Reed" : "Marsh", LabelGigabytes = 32,
            Condition = c % 6 == 0 ? Cardassay.Identity.CardCondition.Used : Cardassay.Identity.CardCondition.New,
        },
        Trials =
        [
            (TrialKind.RandomRead, 2400, TrialRole.Measured), (TrialKind.RandomWrite, 800, TrialRole.Measured),
            (TrialKind.SequentialRead, 32, TrialRole.Measured), (TrialKind.SequentialWrite, 21, TrialRole.Measured),
            (TrialKind.RandomRead, 2400, TrialRole.Closing),
        ],

        // The closing trial repeats the first one: it must share its card's level, not draw one of its own.
        SameLevelAs = i => i == 4 ? 0 : i,
    }.Build();

    private static Dictionary<string, (int Laboratories, int Cards)> Count(int laboratories, Func<int, MasterData> build)
    {
        var alarms = new Dictionary<string, (int Laboratories, int Cards)>();
        for (int i = 0; i < laboratories; i++)
        {
            AnalysisResult result = Analyser.Run(build(90_000 + i), UseProfile.SystemDisk);
            var perCheck = result.Cards.SelectMany(c => c.Findings.Select(f => f.Finding.Id).Distinct())
                .Concat(result.LaboratoryFindings.Select(f => f.Id)).GroupBy(id => id);
            foreach (IGrouping<string, string> check in perCheck)
            {
                (int found, int cards) = alarms.GetValueOrDefault(check.Key);
                alarms[check.Key] = (found + 1, cards + check.Count());
            }
        }

        return alarms;
    }

    private void Print(string title, int laboratories, Dictionary<string, (int Laboratories, int Cards)> alarms)
    {
        output.WriteLine($"{title}: {laboratories} laboratories of {Cards} cards, 3 boards, 24 runs each");
        foreach ((string check, double rate, bool perCard) in Stated)
        {
            (int found, int cards) = alarms.GetValueOrDefault(check);
            output.WriteLine($"  {check,-28} laboratories {100.0 * found / laboratories,6:0.00} %   cards {100.0 * cards / laboratories / Cards,6:0.000} %   stated {100 * rate:0} % per {(perCard ? "card" : "laboratory")}");
        }
    }
}
