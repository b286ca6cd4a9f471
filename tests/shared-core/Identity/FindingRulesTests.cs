using System.Text.RegularExpressions;
using Cardassay.Identity;
using Cardassay.Tests.Registers;

namespace Cardassay.Tests.Identity;

public class FindingRulesTests
{
    public static TheoryData<int> Faults => [.. Enumerable.Range(0, PlantedFaults.All.Count)];

    [Theory]
    [MemberData(nameof(Faults))]
    public void Check_PlantedFault_IsFoundAndItsNeighbourIsNot(int index)
    {
        PlantedFault fault = PlantedFaults.All[index];
        IFindingRule rule = FindingRules.All.Single(r => r.Id == fault.Rule);

        Finding[] found = [.. rule.Check(fault.Faulty)];
        Finding[] neighbour = [.. rule.Check(fault.Neighbour)];

        Assert.True(found.Any(f => f.Severity == fault.Severity), $"{fault}: not found");
        Assert.True(found.All(f => f.Severity <= fault.Severity), $"{fault}: weighs more than {fault.Severity}");
        Assert.True(neighbour.Length == 0, $"{fault}: its neighbour: {string.Join(" ", neighbour.Select(f => f.Text))}");
        Assert.All(found, f => Assert.Equal(rule.Id, f.Id));
    }

    [Fact]
    public void All_EveryRule_HasAPlantedFault() =>
        Assert.Equal(FindingRules.All.Select(r => r.Id).Order(), PlantedFaults.All.Select(f => f.Rule).Distinct().Order());

    [Fact]
    public void All_Ids_AreUniqueKebabCase()
    {
        Assert.Equal(FindingRules.All.Count, FindingRules.All.Select(r => r.Id).Distinct().Count());
        Assert.All(FindingRules.All, r => Assert.Matches(new Regex("^[a-z]+(-[a-z]+)*$"), r.Id));
    }

    [Fact]
    public void Check_EveryFinding_IsCompleteEvidence()
    {
        foreach (Finding finding in PlantedFaults.All.SelectMany(f => FindingRules.Check(f.Faulty)))
        {
            Assert.EndsWith(".", finding.Text, StringComparison.Ordinal);
            Assert.NotEqual("", finding.Source);
            Assert.True(finding.Settles is null || finding.Settles.EndsWith('.'), finding.Settles);
            Assert.All(finding.Values, v => Assert.True(v.Name.Length > 0 && v.Value.Length > 0, finding.Id));
        }
    }

    [Fact]
    public void Check_Findings_ComeTheWeightiestFirst()
    {
        foreach (PlantedFault fault in PlantedFaults.All)
        {
            FindingSeverity[] severities = [.. FindingRules.Check(fault.Faulty).Select(f => f.Severity)];
            Assert.Equal(severities.OrderDescending(), severities);
        }
    }

    // False alarms: registers of cards sold as what they are, from public sources, against what their labels must have said.
    [Theory]
    [InlineData("V1", 2)]
    [InlineData("V2", 2)]
    [InlineData("V4", 8)]
    [InlineData("V5", 16)]
    [InlineData("V7", 64)]
    [InlineData("V8", 64)]
    [InlineData("V11", 8)]
    public void Check_GenuineVectors_GiveNothingWorseThanANote(string name, int labelGigabytes)
    {
        RegisterVector vector = RegisterVectors.Genuine.Single(v => v.Name == name);
        CardRegisters registers = vector.Registers(name == "V11" ? 7_818_182_656 : 0);
        Claim claim = new() { Tag = name, LabelGigabytes = labelGigabytes };

        foreach (DateOnly? today in new DateOnly?[] { null, new DateOnly(2025, 1, 1) })
        {
            IReadOnlyList<Finding> findings = FindingRules.Check(new CardEvidence { Registers = registers, Claim = claim, Today = today });
            Assert.True(
                findings.All(f => f.Severity == FindingSeverity.Note),
                string.Join(" | ", findings.Where(f => f.Severity != FindingSeverity.Note).Select(f => f.Id + ": " + f.Text)));
        }
    }

    // COPY = 1, SD_SECURITY 0, a stripped checksum, an odd but legal CCC: quirks of cards sold as what they are.
    [Fact]
    public void Check_QuirksOfGenuineCards_GiveNothingWorseThanANote()
    {
        CardRegisters quirky = RegisterVectors.V7.With(
            csd: c => c with { Copy = true, CommandClasses = 0xFB5 },
            scr: s => s with { Security = 0 });
        quirky = quirky with { Csd = Cardassay.Registers.Reading<Cardassay.Registers.Csd>.Known(quirky.Csd.Value! with { Crc = 0 }) };

        Assert.All(FindingRules.Check(new CardEvidence { Registers = quirky }), f => Assert.Equal(FindingSeverity.Note, f.Severity));
    }

    // The emulator's card deviates from the standard where its source code says so: the serial number, and 5Ah as rate at reset.
    [Fact]
    public void Check_EmulatedCard_FindsExactlyItsDeviations()
    {
        string[] Worse(RegisterVector v) =>
            [.. FindingRules.Check(new CardEvidence { Registers = v.Registers() }).Where(f => f.Severity > FindingSeverity.Note).Select(f => f.Id).Order()];

        Assert.Equal(["filler-serial", "transfer-rate"], Worse(RegisterVectors.V12Small));
        Assert.Equal(["filler-serial"], Worse(RegisterVectors.V12Large));
    }
}
