using Cardassay.Judging;

namespace Cardassay.SharedCore.Tests.Judging;

public sealed class SteadyStatementTests
{
    private const string Begin = "Random write (whole card), round after round: ";

    [Fact]
    public void Of_RoundsThatBecomeSteady_SaysWhereAndWhen() =>
        Assert.Equal(Begin + "1000 IOPS in the first, steady at 300 IOPS after 8, the mean of the last five.", Of(1000, 700, 450, 300, 305, 295, 301, 299));

    [Fact]
    public void Of_RoundsThatWroteLittle_SaysHowLittleAndThatMoreIsNotKnown() => Assert.EndsWith(
        "the mean of the last five. They wrote 1.5 % as much as the place holds; how it goes on from there is not known.",
        SteadyStatement.Of("random write", "whole card", "IOPS", [300, 300, 300, 300, 300], 30, 2_000), StringComparison.Ordinal);

    [Fact]
    public void Of_RoundsThatDoNot_SaysSo() => Assert.Equal(Begin + "1000 IOPS in the first, 300 to 700 in the last five of 6; not steady.", Of(1000, 700, 450, 300, 305, 310));

    [Fact]
    public void Of_FewRounds_SaysNothingOfTheState() => Assert.Equal(Begin + "2 valid rounds are too few to tell whether the card is steady.", Of(10, 10));

    private static string Of(params double[] figures) => SteadyStatement.Of("random write", "whole card", "IOPS", figures, 2_000, 2_000);
}
