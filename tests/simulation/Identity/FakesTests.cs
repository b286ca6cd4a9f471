using System.Globalization;
using System.Text;
using Cardassay.Identity;
using Cardassay.Tests.Registers;
using Xunit.Abstractions;

namespace Cardassay.Simulation.Identity;

/// <summary>
/// How often each rule fires on public registers of cards sold as what they are, on 1,000 simulated honest cards and on 1,000 simulated
/// fakes of six kinds. The table goes to the test output; the floors are what was reached, less a margin for another seed.
/// </summary>
public class FakesTests(ITestOutputHelper output)
{
    private const int Fakes = 1_000;
    private const int Honest = 1_000;

    /// <summary>Label of each public vector, decimal GB.</summary>
    private static readonly Dictionary<string, decimal> Labels = new()
    {
        ["V1"] = 2, ["V2"] = 2, ["V4"] = 8, ["V5"] = 16, ["V7"] = 64, ["V8"] = 64, ["V11"] = 8,
    };

    /// <summary>Least share of each kind that must come out doubtful or not as claimed, registers alone.</summary>
    private static readonly Dictionary<string, double> Floors = new()
    {
        ["overstated"] = 0.80, ["relabelled"] = 0.80, ["filler serial"] = 0.62, ["marks painted"] = 0.90, ["cloned"] = 0.60, ["reworked"] = 0.43,
    };

    [Theory]
    [InlineData(72025)]
    [InlineData(1)]
    [InlineData(2)]
    [InlineData(3)]
    public void Rules_OnThousandFakes_ReachTheirFloorsWithoutFalseAlarms(int seed)
    {
        Random random = new(seed);
        List<(string Name, CardJudgement[] Judgements)> columns =
        [
            ("public", [.. RegisterVectors.Genuine.Select(Public)]),
            ("honest", [.. Enumerable.Range(0, Honest).Select(_ => CardJudge.Judge(SimulatedFakes.Honest(random)))]),
        ];
        int kinds = SimulatedFakes.Kinds.Length;
        for (int kind = 0; kind < kinds; kind++)
        {
            int count = (Fakes / kinds) + (kind < Fakes % kinds ? 1 : 0);
            (string name, Func<Random, CardEvidence> make) = SimulatedFakes.Kinds[kind];
            columns.Add((name, [.. Enumerable.Range(0, count).Select(_ => CardJudge.Judge(make(random)))]));
        }

        output.WriteLine(Table(columns));

        Assert.Equal(Fakes, columns.Skip(2).Sum(c => c.Judgements.Length));
        Assert.DoesNotContain(columns[0].Judgements, Suspicious);
        Assert.DoesNotContain(columns[1].Judgements, Suspicious);
        foreach ((string name, CardJudgement[] judgements) in columns.Skip(2))
        {
            double share = (double)judgements.Count(Suspicious) / judgements.Length;
            Assert.True(share >= Floors[name], string.Create(CultureInfo.InvariantCulture, $"seed {seed}: {name} {share:P1}, floor {Floors[name]:P0}"));
        }
    }

    private static CardJudgement Public(RegisterVector vector) => CardJudge.Judge(new CardEvidence
    {
        Registers = vector.Registers(vector.Type == "MMC" ? 7_818_182_656 : 0),
        Claim = new Claim { Tag = vector.Name, LabelGigabytes = Labels[vector.Name] },
        Today = SimulatedProduct.Today,
    });

    private static bool Suspicious(CardJudgement judgement) =>
        judgement.Verdict.Kind is VerdictKind.Doubtful or VerdictKind.NotAsClaimed;

    /// <summary>Cards a rule fired on, and in brackets those on which it weighed more than a note.</summary>
    private static string Table(List<(string Name, CardJudgement[] Judgements)> columns)
    {
        StringBuilder table = new();
        void Row(string name, Func<CardJudgement[], string> cell) => table.Append(name.PadRight(30))
            .AppendJoin(' ', columns.Select(c => cell(c.Judgements).PadLeft(13))).Append('\n');

        table.Append("rule: fired (worse than a note)".PadRight(30)).AppendJoin(' ', columns.Select(c => c.Name.PadLeft(13))).Append('\n');
        Row("cards", j => j.Length.ToString(CultureInfo.InvariantCulture));
        foreach (string id in FindingRules.All.Select(r => r.Id))
        {
            int Count(CardJudgement[] all, FindingSeverity least) => all.Count(j => j.Findings.Any(f => f.Id == id && f.Severity >= least));
            if (columns.Any(c => Count(c.Judgements, FindingSeverity.Note) > 0))
            {
                Row(id, all => string.Create(
                    CultureInfo.InvariantCulture, $"{Count(all, FindingSeverity.Note)} ({Count(all, FindingSeverity.Doubt)})"));
            }
        }

        Row("verdict doubtful", all => Verdicts(all, VerdictKind.Doubtful));
        Row("verdict not as claimed", all => Verdicts(all, VerdictKind.NotAsClaimed));
        Row("neither", all => all.Count(j => !Suspicious(j)).ToString(CultureInfo.InvariantCulture));
        return table.ToString();
    }

    private static string Verdicts(CardJudgement[] all, VerdictKind kind) =>
        all.Count(j => j.Verdict.Kind == kind).ToString(CultureInfo.InvariantCulture);
}
