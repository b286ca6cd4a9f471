using Cardassay.Agent.Trials;

namespace Cardassay.Agent.Tests.Trials;

public sealed class SeededSequenceTests
{
    // Outputs of the reference implementation of xoshiro256** from the state 1, 2, 3, 4, as its ports test them (from memory).
    [Fact]
    public void Next_ReferenceState_GivesTheReferenceOutputs()
    {
        var sequence = new SeededSequence(1, 2, 3, 4);
        Assert.Equal(
            [11520UL, 0, 1509978240, 1215971899390074240, 1216172134540287360, 607988272756665600],
            Enumerable.Range(0, 6).Select(_ => sequence.Next()));
    }

    // Uniformity: chi-square of 1,000,000 draws in 100 cells, 99 degrees of freedom; the 99.99 % quantile is 161.3 (R: qchisq(0.9999, 99)).
    [Fact]
    public void Below_ManyDraws_AreUniform()
    {
        var sequence = new SeededSequence(7);
        var cells = new int[100];
        for (int i = 0; i < 1_000_000; i++)
        {
            cells[sequence.Below(100)]++;
        }

        Assert.True(cells.Sum(cell => Math.Pow(cell - 10_000, 2) / 10_000) < 161.3);
    }
}
