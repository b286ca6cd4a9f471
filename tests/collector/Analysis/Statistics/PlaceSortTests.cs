using Cardassay.Collector.Analysis.Statistics;
using MathNet.Numerics.Random;

namespace Cardassay.Collector.Tests.Analysis.Statistics;

public sealed class PlaceSortTests
{
    [Theory]
    [InlineData(0)]
    [InlineData(1)]
    [InlineData(7)]
    [InlineData(300)]
    [InlineData(5000)]
    public void Sort_AnyValues_OrdersPlacesAsTheRuntimesStableSort(int count)
    {
        var random = new MersenneTwister(count, threadSafe: false);
        var sort = new PlaceSort(count);
        for (int round = 0; round < 4; round++)
        {
            // Both signs, both zeros, ties, infinities, and values closer than what is looked at first.
            double[] values = [.. Enumerable.Range(0, count).Select(i => (i % 7) switch
            {
                0 => Math.Round(20 * random.NextDouble()) - 10,
                1 => -1e300 * random.NextDouble(),
                2 => 1 + 1e-14 * Math.Round(100 * random.NextDouble()),
                3 => i % 2 == 0 ? 0.0 : -0.0,
                4 => i % 2 == 0 ? double.PositiveInfinity : double.NegativeInfinity,
                _ => random.NextDouble() - 0.5,
            })];
            sort.Sort(values);
            Assert.Equal(Enumerable.Range(0, count).OrderBy(i => values[i] + 0.0), sort.Places.ToArray());
            Assert.Equal(values.Distinct().Count() < count, sort.HasEqual);
        }
    }

    [Theory]
    [InlineData(1)]
    [InlineData(64)]
    [InlineData(65)]
    [InlineData(500)]
    [InlineData(513)]
    public void Inversions_Permutations_AreThePairsOutOfOrder(int count)
    {
        var random = new MersenneTwister(count, threadSafe: false);
        var inversions = new InversionCount(count);
        for (int round = 0; round < 4; round++)
        {
            int[] places = [.. Enumerable.Range(0, count).OrderBy(_ => random.NextDouble())];
            long pairs = Enumerable.Range(0, count).Sum(i => (long)Enumerable.Range(i + 1, count - i - 1).Count(j => places[j] < places[i]));
            Assert.Equal(pairs, inversions.Of(places));
        }
    }
}
