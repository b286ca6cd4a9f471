using Cardassay.Registers;

namespace Cardassay.Tests.Registers;

public class MmcHealthTests
{
    [Fact]
    public void Parse_AsTheKernelPrintsIt_GivesTheCodes() =>
        // Linux 6.1, drivers/mmc/core/mmc.c: MMC_DEV_ATTR(life_time, "0x%02x 0x%02x\n"), MMC_DEV_ATTR(pre_eol_info, "0x%02x\n").
        Assert.Equal(new MmcHealth(1, 11, 2), MmcHealth.Parse("0x01 0x0b", "0x02"));

    [Theory]
    [InlineData(null, null)]
    [InlineData("", "")]
    [InlineData("0x01", "1")]
    [InlineData("0x01 0x02 0x03", "0x100")]
    [InlineData("one two", "\\xff")]
    public void Parse_AnythingElse_IsNotRead(string? lifeTime, string? spare) =>
        Assert.Equal(new MmcHealth(null, null, null), MmcHealth.Parse(lifeTime, spare));

    // JESD84-B51, 7.4.43 and 7.4.44 as quoted on public pages: 01h is 0 to 10 %, 0Ah 90 to 100 %, 0Bh exceeded.
    [Theory]
    [InlineData(0, "not stated")]
    [InlineData(1, "0 to 10 %")]
    [InlineData(10, "90 to 100 %")]
    [InlineData(11, "is used up")]
    [InlineData(12, "without a meaning")]
    public void LifeTimeWords_Code_SaysTheTenth(int code, string words) =>
        Assert.Contains(words, MmcHealth.LifeTimeWords(code), StringComparison.Ordinal);

    // JESD84-B51, PRE_EOL_INFO as quoted on public pages: 1 normal, 2 warning (80 %), 3 urgent (90 %).
    [Theory]
    [InlineData(1, "normal")]
    [InlineData(2, "80 %")]
    [InlineData(3, "90 %")]
    [InlineData(4, "without a meaning")]
    public void SpareBlocksWords_Code_SaysTheState(int code, string words) =>
        Assert.Contains(words, MmcHealth.SpareBlocksWords(code), StringComparison.Ordinal);
}
