using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.CrossChecks;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Fixtures;
using Cardassay.Identity;
using Xunit.Abstractions;

namespace Cardassay.Simulation.Tests.Analysis;

/// <summary>In how many laboratories in which nothing is wrong does a check find something?</summary>
public class FalseAlarmSimulation(ITestOutputHelper output)
{
    /// <summary>Share of honest laboratories in which a check may speak.</summary>
    private const double Most = 0.05;

    // Where all cards wear the drift check is right to speak.
    private static readonly string[] Checks =
    [
        CheckIds.FirstRun, CheckIds.LevelChange, CheckIds.Outlier, CheckIds.Drift, CheckIds.BoardEffect, CheckIds.RigDisagreement, CheckIds.UnlikeItsProduct, CheckIds.UsedAgainstNew,
        CheckIds.ChangedDuringRun,
    ];

    public static TheoryData<string> Kinds => [.. Conditions.Honest.Select(c => c.Name)];

    [Theory]
    [MemberData(nameof(Kinds))]
    public void HonestLaboratories_OfAKind_EachCheckSpeaksInAtMostFivePercent(string kind)
    {
        Condition condition = Conditions.Honest.Single(c => c.Name == kind);
        int laboratories = Scale.Of(100, 1000);
        var alarms = new Dictionary<string, int>();
        Parallel.For(0, laboratories, i =>
        {
            AnalysisResult result = Analyser.Run(condition.Laboratory(90_000 + i).Build(), UseProfile.SystemDisk);
            lock (alarms)
            {
                foreach (string check in Found(result))
                {
                    alarms[check] = alarms.GetValueOrDefault(check) + 1;
                }
            }
        });

        output.WriteLine($"{kind}: of {laboratories} laboratories "
            + (alarms.Count == 0 ? "none heard anything" : string.Join(", ", alarms.OrderBy(a => a.Key, StringComparer.Ordinal).Select(a => $"{a.Key} in {100.0 * a.Value / laboratories:0.0} %"))));
        foreach (string check in Checks.Where(c => c != CheckIds.Drift || !condition.Worn))
        {
            int found = alarms.GetValueOrDefault(check);
            Assert.True(found <= (Scale.IsFull ? Most * laboratories : Scale.Most(laboratories, Most)), $"{check}: {found} of {laboratories}");
        }

        // Of a wild card it is true that its figures are not settled, and of t(3)'s wildest figures that no bus carries them.
        Assert.Empty(alarms.Keys.Except([.. Checks, CheckIds.Unsettled, .. condition.HeavyTails ? [CheckIds.AboveBusCeiling] : Array.Empty<string>()]));
    }

    [Fact]
    public void HonestLaboratories_OfTwoProductsNewAndUsed_AreNotAccused()
    {
        int laboratories = Scale.Of(100, 1000);
        var alarms = new Dictionary<string, int>();
        for (int i = 0; i < laboratories; i++)
        {
            AnalysisResult result = Analyser.Run(new SyntheticLaboratory
            {
                Cards = 12, Boards = 3, RunsPerCard = 10, Seed = 5000 + i, Noise = 0.02, Specimens = 0.02, RunNoise = 0.01, Stalls = 0.03,
                ClaimOf = c => new Claim
                {
                    Tag = SyntheticLaboratory.Tag(c), Maker = "Quillon", Product = c < 6 ? "Reed" : "Marsh", LabelGigabytes = 32, Condition = c % 6 == 0 ? CardCondition.Used : CardCondition.New,
                },
            }.Build(), UseProfile.SystemDisk);
            foreach (string check in Found(result))
            {
                alarms[check] = alarms.GetValueOrDefault(check) + 1;
            }
        }

        output.WriteLine("two products, stalls in 3 % of figures: " + string.Join(", ", alarms.Select(a => $"{a.Key} in {100.0 * a.Value / laboratories:0.0} %")));
        Assert.All(alarms.Where(a => a.Key != CheckIds.Outlier), a => Assert.True(a.Value <= Scale.Most(laboratories, Most), $"{a.Key}: {a.Value}")); // a stall of 20 % is an outlier
    }

    internal static IEnumerable<string> Found(AnalysisResult result) =>
        result.Cards.SelectMany(c => c.Findings.Select(f => f.Finding.Id)).Concat(result.LaboratoryFindings.Select(f => f.Id)).Distinct();
}
