using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Explaining;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Fixtures;
using Cardassay.Trials;

namespace Cardassay.Collector.Tests.Analysis.Explaining;

public class ExplainTests
{
    [Fact]
    public void For_Card_NamesEveryRecordRuleAndRank()
    {
        MasterData data = new SyntheticLaboratory
        {
            Cards = 3,
            Touch = (d, t) => d is { Card: 1, Run: 2, Kind: TrialKind.RandomRead } ? t with { Valid = false, Reasons = ["The card was warm."] } : t,
        }.Build();
        AnalysisResult result = Analyser.Run(data, UseProfile.SystemDisk);
        Explanation explanation = Explain.For(result, "T0001")!;
        string text = string.Join('\n', explanation.Lines.Select(l => l.Text));
        var named = explanation.Lines.SelectMany(l => l.Records).ToHashSet();
        RunRecord[] runs = [.. data.Runs.Where(r => r.Opened.Tag == "T0001")];
        Assert.Equal(12, runs.Length);
        Assert.All(runs, r => Assert.Contains(r.Key, named));
        Assert.All(runs.SelectMany(r => r.Trials), t => Assert.Contains(t.Key, named));
        Assert.Contains("set aside by invalid", text);
        Assert.Contains("The card was warm.", text);
        Assert.Contains("values 2 and 11 of 12 in order of size (exact binomial, 99.37 %)", text);
        Assert.Contains("composite", text);
        Assert.Contains("weight 0.5", text);
        Assert.DoesNotContain("T0002 to", text);
    }

    [Fact]
    public void For_UnknownCard_IsNull() => Assert.Null(Explain.For(Analyser.Run(new SyntheticLaboratory { Cards = 1 }.Build(), UseProfile.SystemDisk), "nobody"));
}
