using Cardassay.Agent.Tests.Sysfs;

namespace Cardassay.Agent.Tests.Commands;

/// <summary>The whole page and the whole JSON, for each public register vector and for boards that hide or damage something.</summary>
public class IdentifyGoldenTests
{
    [Theory]
    [MemberData(nameof(RegisterVectors.All), MemberType = typeof(RegisterVectors))]
    public void Identify_EveryVector_PrintsTheGoldenPageAndJson(RegisterVector vector)
    {
        using FixtureTree fixture = vector.ToTree();
        CheckBoth(fixture, vector.Name, "mmcblk0");
    }

    [Theory]
    [InlineData("board-a-6.1-sdhc", "mmcblk0")]
    [InlineData("board-a-6.1-mapper", "loop0")]
    [InlineData("board-b-6.6-sdxc", "mmcblk1")]
    [InlineData("board-c-6.6-emmc", "mmcblk2")]
    [InlineData("board-c-6.6-emmc", "vda")]
    [InlineData("board-d-5.10-bare", "mmcblk0")]
    [InlineData("board-d-6.1-reader", "sda")]
    [InlineData("board-e-6.1-damaged", "mmcblk0")]
    public void Identify_EveryBoard_PrintsTheGoldenPageAndJson(string fixtureName, string target)
    {
        using FixtureTree fixture = FixtureTree.Expand(fixtureName);
        CheckBoth(fixture, $"{fixtureName}-{target}", target);
    }

    [Fact]
    public void Identify_RelabelledCard_PrintsTheGoldenPageAndJson()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-a-6.1-sdhc");
        CheckBoth(
            fixture, "relabelled", "mmcblk0", "--tag", "T-07", "--claim-gb", "128", "--claim-marks", "C10 U3 V30 A2", "--claim-maker", "Quillon",
            "--claim-product", "Reed 128", "--condition", "new", "--purchased", "2026-02-20");
    }

    [Fact]
    public void Identify_HonestReader_PrintsTheGoldenPageAndJson()
    {
        using FixtureTree fixture = FixtureTree.Expand("board-d-6.1-reader");
        CheckBoth(fixture, "reader-claimed", "sda", "--claim-gb", "32", "--claim-marks", "none");
    }

    private static void CheckBoth(FixtureTree fixture, string name, string target, params string[] options)
    {
        IdentifyRun page = IdentifyRun.Of(fixture.Root, target, options);
        Assert.Null(page.Error);
        Golden.Check(name + ".txt", $"{page.Output}\nexit code {page.ExitCode}\n");
        IdentifyRun json = IdentifyRun.Of(fixture.Root, target, [.. options, "--json"]);
        Golden.Check(name + ".json", json.Output);
        Assert.Equal(page.ExitCode, json.ExitCode);
        Assert.All(page.Output.Split('\n'), line => Assert.InRange(line.Length, 0, 80));
    }
}
