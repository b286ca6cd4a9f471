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
    private static int Laboratories => Scale.Of(100, 1000);

    [Fact]
    public void Board_EightPercentSlow_IsFound()
    {
        int found = 0, others = 0;
        for (int i = 0; i < Laboratories; i++)
        {
            AnalysisResult result = Run(new SyntheticLaboratory
            {
                Cards = 10, Boards = 3, RunsPerCard = 12, Noise = 0.03, Seed = i, Effect = d => d.Board == 1 ? 0.92 : 1,
            });
            string[] accused = [.. result.BoardEffects.Where(e => e.IsFinding).Select(e => e.Board).Distinct()];
            found += accused.Contains("board-b") ? 1 : 0;
            others += accused.Any(b => b != "board-b") ? 1 : 0;
        }

        Report("board 8 % slow, 10 cards x 12 runs on 3 boards, 3 % noise", found, others);
    }

    [Fact]
    public void Card_WearingOnePercentANight_IsFound()
    {
        int found = 0, others = 0;
        for (int i = 0; i < Laboratories; i++)
        {
            AnalysisResult result = Run(new SyntheticLaboratory
            {
                Cards = 12, RunsPerCard = 14, Noise = 0.02, Seed = i,
                Effect = d => d is { Card: 5, Kind: TrialKind.RandomWrite or TrialKind.SequentialWrite } ? Math.Pow(0.99, d.Night) : 1,
            });
            string[] drifting = [.. result.Cards.Where(c => c.Findings.Any(f => f.Finding.Id == CheckIds.Drift)).Select(c => c.Name)];
            found += drifting.Contains("T0005") ? 1 : 0;
            others += drifting.Any(n => n != "T0005") ? 1 : 0;
        }

        Report("card wearing 1 % a night over 14 nights, one run a night, 2 % noise", found, others);
    }

    [Fact]
    public void FirstRun_FivePercentLow_IsFound()
    {
        int found = 0, others = 0;
        for (int i = 0; i < Laboratories; i++)
        {
            AnalysisResult result = Run(new SyntheticLaboratory
            {
                Cards = 10, RunsPerCard = 12, RunsPerNight = 3, Noise = 0.03, Seed = i,
                Effect = d => d.RunOfNight == 0 && d.Kind == TrialKind.RandomRead ? 0.95 : 1,
            });
            found += result.FirstRunEffects.Any(e => e is { Kind: TrialKind.RandomRead, WarmUp: > 0 }) ? 1 : 0;
            others += result.FirstRunEffects.Any(e => e.Kind != TrialKind.RandomRead && e.WarmUp > 0) ? 1 : 0;
        }

        Report("first of three runs 5 % low, 40 sequences, 3 % noise", found, others, mostOthers: 0.03);
    }

    [Fact]
    public void Card_OneRelabelledInTen_IsFound()
    {
        int found = 0, others = 0;
        for (int i = 0; i < Laboratories; i++)
        {
            AnalysisResult result = Run(new SyntheticLaboratory
            {
                Cards = 10, RunsPerCard = 12, Noise = 0.04, Specimens = 0.04, Seed = i,
                Effect = d => d.Card == 7 && d.Kind == TrialKind.RandomWrite ? 0.6 : 1,
            });
            string[] accused = [.. result.Cards.Where(c => c.Findings.Any(f => f.Finding.Id == CheckIds.UnlikeItsProduct)).Select(c => c.Name)];
            found += accused.Contains("T0007") ? 1 : 0;
            others += accused.Any(n => n != "T0007") ? 1 : 0;
        }

        Report("one specimen in ten with 0.6 times the random write, specimens 4 %, noise 4 %", found, others);
    }

    [Fact]
    public void Level_TenPercentDownInTheMiddle_IsFound()
    {
        int found = 0, others = 0;
        for (int i = 0; i < Laboratories; i++)
        {
            AnalysisResult result = Run(new SyntheticLaboratory
            {
                Cards = 8, RunsPerCard = 18, Noise = 0.03, Seed = i, Effect = d => d is { Card: 2, Kind: TrialKind.RandomRead, Run: >= 9 } ? 0.9 : 1,
            });
            string[] changed = [.. result.Cards.Where(c => c.Findings.Any(f => f.Finding.Id == CheckIds.LevelChange)).Select(c => c.Name)];
            found += changed.Contains("T0002") ? 1 : 0;
            others += changed.Any(n => n != "T0002") ? 1 : 0;
        }

        Report("level 10 % down after 9 of 18 runs, 3 % noise", found, others, mostOthers: 0.07); // stated per card
    }

    [Fact]
    public void Prefix_FirstFourOfSixteenLow_IsSetAside()
    {
        int found = 0, others = 0;
        for (int i = 0; i < Laboratories; i++)
        {
            AnalysisResult result = Run(new SyntheticLaboratory
            {
                Cards = 1, RunsPerCard = 16, RunsPerNight = 16, Noise = 0.03, Seed = i, Effect = d => d is { Kind: TrialKind.RandomWrite, Run: < 4 } ? 0.85 : 1,
            });
            int[] aside = [.. result.Cards[0].Metrics.Select(m => m.SetAside.Count(a => a.Rule == Collector.Analysis.Figures.SetAsideRule.WarmUpPrefix))];
            found += aside[1] is >= 3 and <= 5 ? 1 : 0;
            others += aside[0] + aside[2] + aside[3] > 0 ? 1 : 0;
        }

        Report("first 4 of 16 repetitions 15 % low, 3 % noise", found, others);
    }

    [Fact]
    public void Separation_ProposedRepetitions_TellApartAboutAsOftenAsNot()
    {
        int apart = 0, apartWithTwice = 0, asked = 0;
        for (int i = 0; i < Laboratories; i++)
        {
            SyntheticLaboratory Two(int runs) => new()
            {
                Cards = 2, RunsPerCard = runs, Noise = 0.04, Specimens = 0, Seed = i, Effect = d => d.Card == 1 ? 0.975 : 1,
            };
            Collector.Analysis.Ranking.RankingTable now = Run(Two(12)).Rankings[0];
            if (now.Separations is not [{ IsReachable: true } pair])
            {
                continue;
            }

            asked++;
            int more = Math.Max(pair.MoreOnBetter, pair.MoreOnWorse);
            apart += Run(Two(12 + more)).Rankings[0].Separations.Count == 0 ? 1 : 0;
            apartWithTwice += Run(Two(12 + 2 * more)).Rankings[0].Separations.Count == 0 ? 1 : 0;
        }

        output.WriteLine($"pairs 2.5 % apart, 4 % noise: of {asked} proposals {100.0 * apart / asked:0} % tell apart as proposed, {100.0 * apartWithTwice / asked:0} % with twice as many");
        Assert.True(asked >= Laboratories / 5);
        Assert.True(apart >= 0.3 * asked);
        Assert.True(apartWithTwice >= 0.5 * asked);
    }

    private static AnalysisResult Run(SyntheticLaboratory laboratory) => Analyser.Run(laboratory.Build(), UseProfile.SystemDisk);

    private void Report(string fault, int found, int others, double mostOthers = 0.01)
    {
        output.WriteLine($"{fault}: found in {100.0 * found / Laboratories:0.0} %, something else accused in {100.0 * others / Laboratories:0.0} % of {Laboratories}");
        Assert.True(found >= 0.9 * Laboratories, $"found in {found} of {Laboratories}");
        Assert.True(others <= Scale.Most(Laboratories, mostOthers), $"others accused in {others} of {Laboratories}");
    }
}
