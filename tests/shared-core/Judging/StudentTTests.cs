using Cardassay.Judging;

namespace Cardassay.SharedCore.Tests.Judging;

public sealed class StudentTTests
{
    /// <summary>NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2, upper critical values of Student's t; 0.975 one-sided is 95 % within.</summary>
    [Theory]
    [InlineData(1, 12.706, 31.821)]
    [InlineData(2, 4.303, 6.965)]
    [InlineData(5, 2.571, 3.365)]
    [InlineData(9, 2.262, 2.821)]
    [InlineData(10, 2.228, 2.764)]
    [InlineData(29, 2.045, 2.462)]
    [InlineData(100, 1.984, 2.364)]
    public void Bound_DegreesOfTheTable_IsTheTable(int df, double at975, double at99)
    {
        Assert.Equal(at975, StudentT.Bound(0.95, df), 3);
        Assert.Equal(at99, StudentT.Bound(0.98, df), 3);
    }

    [Fact]
    public void Within_NoDegrees_Throws() => Assert.Throws<ArgumentOutOfRangeException>(() => StudentT.Within(1, 0));
}
