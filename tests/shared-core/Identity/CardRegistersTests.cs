using Cardassay.Identity;
using Cardassay.Registers;
using Cardassay.Tests.Registers;
using Cardassay.Trials;

namespace Cardassay.Tests.Identity;

public class CardRegistersTests
{
    [Fact]
    public void From_ObservationOfAnSdCard_DecodesAllFour()
    {
        CardIdentified observation = new()
        {
            RunId = new RunId(Guid.Empty),
            Identity = "x",
            DiskBytes = 62_277_025_792,
            Attachment = Attachment.Slot,
            Files = RegisterVectors.V7.Files(),
        };

        CardRegisters registers = CardRegisters.From(observation);

        Assert.Equal(CardType.Sd, registers.Type);
        Assert.Equal("sd-9f-5449-SD64G-6.1-36980065-2019-11", registers.Identity!.Text);
        Assert.Equal(registers.DiskBytes, registers.UserAreaBytes);
        Assert.Equal(128L << 20, registers.ProtectedAreaBytes);
        Assert.Equal("6.XX", registers.Scr.Value!.SpecVersion);
    }

    [Fact]
    public void From_Emmc_TakesSizeFromTheDiskAndCorrectsTheYear()
    {
        CardRegisters registers = RegisterVectors.V11.Registers(7_818_182_656);

        Assert.Equal(CardType.Mmc, registers.Type);
        Assert.Equal(new ManufactureDate(2013, 5), registers.Manufactured);
        Assert.Equal(7_818_182_656, registers.UserAreaBytes);
        Assert.Equal(ReadingState.Absent, registers.Csd.State);
    }

    [Fact]
    public void From_OneDamagedFile_KeepsTheRest()
    {
        Dictionary<string, Reading<string>> files = RegisterVectors.V5.Files();
        files["csd"] = Reading<string>.Known("rubbish");
        files["scr"] = Reading<string>.Unreadable("Input/output error");
        files.Remove("ssr");

        CardRegisters registers = CardRegisters.From(files, 0, Attachment.Slot);

        Assert.True(registers.Cid.IsKnown);
        Assert.Contains("7 characters", registers.Csd.Reason, StringComparison.Ordinal);
        Assert.Equal("Input/output error", registers.Scr.Reason);
        Assert.Equal(ReadingState.Absent, registers.Status.State);
        Assert.Null(registers.UserAreaBytes);
    }

    [Fact]
    public void From_StatusOfZeros_IsUnreadableNotZero()
    {
        Dictionary<string, Reading<string>> files = RegisterVectors.V5.Files();
        files["ssr"] = Reading<string>.Known(new string('0', 128));

        Assert.Equal(ReadingState.Unreadable, CardRegisters.From(files, 0, Attachment.Slot).Status.State);
    }

    [Theory]
    [InlineData("scr", CardType.Sd)]
    [InlineData("ssr", CardType.Sd)]
    [InlineData("rev", CardType.Mmc)]
    [InlineData("prv", CardType.Mmc)]
    [InlineData("date", CardType.Unknown)]
    public void From_TypeMissing_IsToldByTheFilesOnlyOneKindHas(string file, CardType expected)
    {
        Dictionary<string, Reading<string>> files = new()
        {
            ["cid"] = Reading<string>.Known(RegisterVectors.V5.Cid),
            [file] = Reading<string>.Unreadable("Permission denied"),
        };

        CardRegisters registers = CardRegisters.From(files, 0, Attachment.Slot);

        Assert.Equal(expected, registers.Type);
        Assert.Equal(expected == CardType.Unknown, registers.Identity is null);
    }

    [Fact]
    public void From_Nothing_IsAbsentEverywhere()
    {
        CardRegisters registers = CardRegisters.From(new Dictionary<string, Reading<string>>(), 0, Attachment.Reader);

        Assert.Equal(CardType.Unknown, registers.Type);
        Assert.Equal(ReadingState.Absent, registers.Cid.State);
        Assert.Null(registers.Identity);
        Assert.Equal(new CardFacts(), CardFacts.Of(registers));
    }

    [Fact]
    public void Facts_V5_AreWhatItsReadOutStates() => Assert.Equal(
        new CardFacts
        {
            ManufacturerId = 3,
            OemId = 0x5344,
            ProductName = "SC16G",
            ProductRevision = "8.0",
            SerialNumber = 0xecf4c851,
            Manufactured = new ManufactureDate(2017, 11),
            CapacityBytes = 31_116_288L * 512,
            Family = "SDHC",
            CsdVersion = 2,
            SpecVersion = "5.XX",
            SpeedClass = 10,
            UhsGrade = 1,
            VideoClass = 0,
            ApplicationClass = 1,
            AllocationUnitBytes = 4 << 20,
            ProtectedAreaBytes = 64 << 20,
            CidCrc = CrcState.Valid,
            CsdCrc = CrcState.Valid,
        },
        CardFacts.Of(RegisterVectors.V5.Registers()));
}
