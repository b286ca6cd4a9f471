using System.Text;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Trials;

namespace Cardassay.Collector.Tests.Analysis.Profiles;

public class ProfileFileTests
{
    [Fact]
    public void Parse_CommentsAndAllKeys_GivesTheProfile()
    {
        UseProfile profile = Parse("""
            {
              // a kiosk boots once and reads a lot
              "name": "kiosk",
              "metrics": [
                { "metric": "randomRead", "weight": 0.75, "reference": 1500, "floor": 1000, "blockBytes": 4096, "queueDepth": 4 },
                { "metric": "sustainedWrite", "weight": 0.25, "reference": 10, "enough": 30 },
              ],
            }
            """);
        Assert.Equal("kiosk", profile.Name);
        Assert.Equal([new(TrialKind.RandomRead, 0.75, 1500, 1000, 4096, 4), new ProfileMetric(TrialKind.SustainedWrite, 0.25, 10, Enough: 30)], profile.Metrics);
    }

    [Fact]
    public void Parse_ManyMistakes_NamesEachWithLineAndKey()
    {
        string[] errors = Errors("""
            {
              "name": "Kiosk!",
              "colour": 1,
              "metrics": [
                { "metric": "randomreads", "weight": 0, "reference": "fast" },
                { "metric": "randomRead", "weight": 0.5, "weight": 0.6, "queueDepth": 1.5 }
              ]
            }
            """);
        Assert.Equal(
        [
            "p.json, line 3, colour: is not a key of a profile; known here: name, metrics",
            "p.json, line 2, name: may hold lower-case letters, digits and '-' only",
            "p.json, line 5, metrics[0].metric: must be one of randomRead, randomWrite, synchronousWrite, mixed, transaction, bootRead, packageInstall, databaseCommit, logAppend, swap, sequentialRead, sequentialWrite, sustainedWrite, cliff, openSegmentWrite",
            "p.json, line 5, metrics[0].weight: must be above 0 and at most 1",
            "p.json, line 5, metrics[0].reference: must be above 0",
            "p.json, line 6, metrics[1].weight: is given twice",
            "p.json, line 6, metrics[1].reference: is missing",
            "p.json, line 6, metrics[1].queueDepth: must be a whole number from 1 to 64",
        ], errors);
    }

    [Theory]
    [InlineData("""{"name":"a","metrics":[{"metric":"randomRead","weight":0.5,"reference":1}]}""", "p.json, line 1, metrics: weights must add up to 1, these add up to 0.5")]
    [InlineData("""{"name":"recorder","metrics":[{"metric":"randomRead","weight":1,"reference":1}]}""", "p.json, line 1, name: is the name of a built-in profile: recorder")]
    [InlineData("""{"name":"a","metrics":[{"metric":"randomRead","weight":1,"reference":1,"enough":0}]}""", "p.json, line 1, metrics[0].enough: must be above 0 and not below the floor")]
    [InlineData("""{"name":"a","metrics":[{"metric":"randomRead","weight":1,"reference":1,"floor":40,"enough":30}]}""", "p.json, line 1, metrics[0].enough: must be above 0 and not below the floor")]
    [InlineData("""{"name":"a","metrics":[{"metric":"randomRead","weight":1,"reference":1,"enough":"plenty"}]}""", "p.json, line 1, metrics[0].enough: must be above 0 and not below the floor")]
    [InlineData("""{"name":"a","metrics":[]}""", "p.json, line 1, metrics: must be a list of at least one metric")]
    [InlineData("[]", "p.json, line 1: must be an object with \"name\" and \"metrics\"")]
    [InlineData("{\n\"name\": \"a\",\n\"metrics\": [", "p.json, line 3: not valid JSON")]
    [InlineData("", "p.json, line 1: not valid JSON")]
    [InlineData("""{"name":"a","metrics":[{"metric":"mixed","weight":0.5,"reference":1},{"metric":"mixed","weight":0.5,"reference":1}]}""", "p.json, line 1, metrics[1].metric: mixed is listed twice")]
    public void Parse_OneMistake_SaysWhat(string json, string error) => Assert.Equal([error], Errors(json));

    [Fact]
    public void BuiltIn_Profiles_HaveWeightsThatAddUpToOne() =>
        Assert.All(UseProfile.BuiltIn, p => Assert.Equal(1, p.Metrics.Sum(m => m.Weight), 12));

    [Fact]
    public void Composite_Example_IsTheGeometricMeanWithoutACap()
    {
        // 0.5 ln 2 + 0.3 ln 1 + 0.1 ln 9 + 0.1 ln 0.5
        double expected = Math.Exp(0.5 * Math.Log(2) + 0.1 * Math.Log(9) + 0.1 * Math.Log(0.5));
        Assert.Equal(expected, UseProfile.SystemDisk.Composite([3000, 500, 90, 5]), 12);
        Assert.Equal(0, UseProfile.SystemDisk.Composite([0, 500, 90, 5]));
    }

    private static UseProfile Parse(string json) => ProfileFile.Parse(Encoding.UTF8.GetBytes(json), "p.json");

    private static string[] Errors(string json) => [.. Assert.Throws<ProfileFileException>(() => Parse(json)).Errors];
}
