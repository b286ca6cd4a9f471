using System.Text.Json;

namespace Cardassay.EndToEnd.Tests;

/// <summary>The invented data set, through the wire and intake of real boards: what was planted is found, and nothing else.</summary>
[Collection("machine")]
public sealed class TarrowTests : IDisposable
{
    private readonly Workshop _workshop = new();

    [Fact]
    public void Report_OfTarrow_FindsWhatWasPlantedAndNothingElse()
    {
        string tarrow = Path.Combine(_workshop.Root, "tarrow");
        Running.Run(Repository.Demo, "--data", tarrow).Expect(0);
        string json = Load(tarrow);
        JsonElement report = JsonDocument.Parse(json).RootElement;
        Assert.True(report.GetProperty("invented").GetBoolean());
        Assert.Equal(24, report.GetProperty("cards").GetArrayLength());
        Assert.Equal(0, report.GetProperty("integrity").GetProperty("gaps").GetInt64());
        Assert.Equal(0, report.GetProperty("integrity").GetProperty("conflicts").GetInt64());

        // Overstated, relabelled and cloned: found, by the rule that fits. No other card has a doubt or a contradiction.
        Assert.Contains("capacity-against-label", Findings(report, "T-15", "contradiction"));
        Assert.Contains("marks-against-claim", Findings(report, "T-04", "contradiction"));
        Assert.Contains("reference-cards", Findings(report, "T-04", "doubt"));
        Assert.Contains("identity-in-two-places", Findings(report, "T-08", "contradiction"));
        Assert.Contains("identity-in-two-places", Findings(report, "T-09", "contradiction"));
        string[] accused = [.. Cards(report)
            .Where(c => c.GetProperty("findings").EnumerateArray().Any(f => f.GetProperty("severity").GetString() != "note"))
            .Select(c => c.GetProperty("tag").GetString()!).Order(StringComparer.Ordinal)];
        Assert.Equal(["T-04", "T-08", "T-09", "T-15"], accused);

        // The overstated one keeps even less than its registers say; its proof tells how much.
        Assert.Contains("capacity-proof", Findings(report, "T-15", "contradiction"));
        Assert.Equal(30_587_064_320, Card(report, "T-15").GetProperty("capacity").GetProperty("proof").GetProperty("trueBytes").GetInt64());
        Assert.Equal(JsonValueKind.Null, Card(report, "T-17").GetProperty("capacity").ValueKind);
        Assert.Equal("not proven", Verdict(report, "T-17"));
        Assert.Equal("as claimed, sparsely probed", Verdict(report, "T-16"));
        Assert.Equal("as claimed", Verdict(report, "T-01"));
        Assert.Equal("not as claimed", Verdict(report, "T-15"));
        Assert.DoesNotContain(
            Card(report, "T-15").GetProperty("verdictMissing").EnumerateArray(), m => m.GetString()!.Contains("capacity proof", StringComparison.Ordinal));

        // Worn: its stalls are seen. Superb and cheap: first, and not told apart from its two sisters.
        Assert.Contains("long-stall", Findings(report, "T-03", "note"));
        string[] first = [.. Cards(report)
            .Where(c => c.GetProperty("rank") is { ValueKind: JsonValueKind.Object } rank && rank.GetProperty("best").GetInt32() == 1)
            .Select(c => c.GetProperty("tag").GetString()!).Order(StringComparer.Ordinal)];
        Assert.Equal(["T-19", "T-20", "T-21"], first);

        // The slow board is 2.5 % slow: named, and no finding, which begins at 3 % between two boards.
        JsonElement[] tables = [.. report.GetProperty("comparisons").EnumerateArray()];
        Assert.Contains("gannet-quay is surely slower than every other board", json, StringComparison.Ordinal);
        Assert.DoesNotContain(tables, t => t.GetProperty("id").GetString() == "laboratory");

        // What was certain of the order after an earlier night is not turned round by a later one.
        Dictionary<string, (int Best, int Worst)>[] nights = [.. new[] { "2026-03-02", "2026-03-03", "2026-03-04" }.Select(RanksAfter)];
        Assert.Contains(nights[1].Values, a => nights[1].Values.Any(b => a.Worst < b.Best)); // else there was nothing to turn round; after one night nothing is certain
        for (int earlier = 0; earlier < nights.Length; earlier++)
        {
            foreach (Dictionary<string, (int Best, int Worst)> later in nights[(earlier + 1)..])
            {
                Assert.DoesNotContain(
                    from a in nights[earlier] from b in nights[earlier] where a.Value.Worst < b.Value.Best && later.ContainsKey(a.Key) && later.ContainsKey(b.Key) select (a.Key, b.Key),
                    pair => later[pair.Item2].Worst < later[pair.Item1].Best);
            }
        }

        // Loaded once more, every record is a silent repetition.
        Assert.Equal(json, Load(tarrow));
    }

    public void Dispose() => _workshop.Dispose();

    private string Load(string tarrow)
    {
        (Running collector, string address, _) = _workshop.Serve();
        using (collector)
        {
            // The claims are recorded once: a repeated claim is a new entry with a new time.
            if (!File.Exists(Path.Combine(_workshop.Root, "claimed")))
            {
                _workshop.Collector("claim", "--csv", Path.Combine(tarrow, "claims.csv")).Expect(0);
                File.WriteAllText(Path.Combine(_workshop.Root, "claimed"), "");
            }

            foreach (string board in Directory.EnumerateDirectories(tarrow).Order(StringComparer.Ordinal))
            {
                // A copy, because receipts let the journal forget what was delivered.
                string copy = Path.Combine(_workshop.Root, $"board-{Guid.NewGuid():N}");
                Running.Run("cp", "-a", board, copy).Expect(0);
                _workshop.AgentOn(copy, "work", "--collector", address, "--board", Path.GetFileName(board), "--until-idle").Expect(0);
            }

            return _workshop.Collector("report", "--json").Expect(0).Output;
        }
    }

    private Dictionary<string, (int Best, int Worst)> RanksAfter(string night) =>
        Cards(JsonDocument.Parse(_workshop.Collector("report", "--json", "--night", night).Expect(0).Output).RootElement)
            .Where(c => c.GetProperty("rank").ValueKind == JsonValueKind.Object)
            .ToDictionary(c => c.GetProperty("tag").GetString()!, c => (c.GetProperty("rank").GetProperty("best").GetInt32(), c.GetProperty("rank").GetProperty("worst").GetInt32()));

    private static IEnumerable<JsonElement> Cards(JsonElement report) => report.GetProperty("cards").EnumerateArray();

    private static JsonElement Card(JsonElement report, string tag) => Cards(report).Single(c => c.GetProperty("tag").GetString() == tag);

    private static string Verdict(JsonElement report, string tag) => Card(report, tag).GetProperty("verdict").GetString()!;

    private static IEnumerable<string> Findings(JsonElement report, string tag, string severity) => Card(report, tag)
        .GetProperty("findings").EnumerateArray()
        .Where(f => f.GetProperty("severity").GetString() == severity)
        .Select(f => f.GetProperty("id").GetString()!);
}
