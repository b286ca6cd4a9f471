using Cardassay.ModelCards.Tests.Models;
using Cardassay.Trials;

namespace Cardassay.ModelCards.Tests;

/// <summary>The same for cards whose pace hangs on what came before: how full, how warm, how often written over, read before or not.</summary>
public sealed class StateTests
{
    private const long MiB = 1 << 20, GiB = 1 << 30;

    [Fact]
    public void SlowerWhenFull_TheFiguresAreThoseOfAFullCard()
    {
        Night night = new Night(new SlowerWhenFull()).Run("system-disk");
        Night.IsTrue(1e9 / (SlowerWhenFull.Times * CardModel.WriteTimeNs(4096)), night.Figures(TrialKind.RandomWrite));
        Night.IsTrue(524288e3 / (SlowerWhenFull.Times * CardModel.WriteTimeNs(524288)), night.Figures(TrialKind.SequentialWrite));
        Night.IsTrue(1e9 / CardModel.ReadTimeNs(4096), night.Figures(TrialKind.RandomRead, ModelCard.Size));
    }

    [Fact]
    public void FirstReadDearer_TheFirstReadsStandApart()
    {
        Night night = new Night(new FirstReadDearer()).Run("system-disk");
        foreach (long range in new[] { 64 * MiB, GiB, ModelCard.Size })
        {
            double[] later = night.Figures(TrialKind.RandomRead, range);
            Night.IsTrue(1e9 / CardModel.ReadTimeNs(4096), later);
            Assert.All(night.Trials.Where(t => t.Kind == TrialKind.RandomRead && t.Pass == 2), t => Assert.InRange(t.ElapsedNs / 1e9, 19.9, 20.1)); // none ran out of places
            Assert.InRange(later.Max() / later.Min(), 1, 1.05); // forwards and backwards, whatever step came before
            Night.IsTrue(1e9 / (CardModel.ReadTimeNs(4096) + CardModel.Ns(FirstReadDearer.FirstMs)), night.Figures(TrialKind.RandomRead, range, pass: 1));
        }

        var card = night.Report();
        Assert.DoesNotContain("first pass", card.Metrics[0].Series, StringComparison.Ordinal);
        Assert.Contains(card.Metrics, metric => metric.Key == "randomRead" && metric.Series.Contains("first pass after writing", StringComparison.Ordinal));
    }

    [Fact]
    public void Throttles_RoundsWithoutRestAndAMinuteAfterOneAreEachTrue()
    {
        Night night = new Night(new Throttles()).Run("system-disk");

        // The same minutes on a card of its own, without anything of the program.
        var other = new Throttles();
        long at = 0;
        double Minute(double rest)
        {
            long begun = at += CardModel.Ns(rest * 1000);
            int operations = 0;
            for (; at < begun + 60_000_000_000; operations++)
            {
                at += other.WriteNs(at, 0, 4096);
            }

            return operations / 60.0;
        }

        double[] minutes = [.. Enumerable.Range(0, 10).Select(_ => Minute(0))];
        double[] rounds = [.. night.Trials.Where(t => t is { Kind: TrialKind.RandomWrite, Role: TrialRole.WarmUp }).Select(TrialFigure.Of)];
        Night.IsTrue(minutes[^5..].Average(), [rounds[^5..].Average()]);
        Night.IsTrue(Minute(300), night.Figures(TrialKind.RandomWrite));
        Assert.Contains(night.Report().Behaviour, text => text.Contains("round after round", StringComparison.Ordinal));
    }

    [Fact]
    public void LittleSpare_TheSteadyPaceIsFoundAndNotPromisedForLonger()
    {
        var model = new LittleSpare();
        Night night = new Night(model).Run("system-disk");

        // New, it has all its spare blocks; at the end it copies several pages for each that is written. The plan has come to where that stays so.
        string steady = Assert.Single(night.Notes, note => note.Contains("round after round", StringComparison.Ordinal));
        double[] rounds = [.. night.Trials.Where(t => t is { Kind: TrialKind.RandomWrite, Role: TrialRole.WarmUp }).Select(TrialFigure.Of)];
        double truth = LongRun(model);
        Assert.True(rounds[0] > 1.5 * truth, $"{rounds[0]} at first and {truth} in the end: the model no longer shows what is asked");
        Night.IsTrue(truth, night.Figures(TrialKind.RandomWrite));
        Assert.EndsWith("how it goes on from there is not known.", steady, StringComparison.Ordinal);
        Assert.Contains(night.Report().Behaviour, text => text.EndsWith(steady, StringComparison.Ordinal));
    }

    /// <summary>Rate of random writes, operations a second, after four times the card has been written at random.</summary>
    private static double LongRun(LittleSpare model)
    {
        var random = new Random(5);
        const int Pages = (int)(ModelCard.Size / 4096);
        long ns = 0;
        for (long i = 0; i < 5L * Pages; i++)
        {
            long each = model.WriteNs(0, random.NextInt64(Pages) * 4096, 4096);
            ns += i >= 4L * Pages ? each : 0;
        }

        return Pages * 1e9 / ns;
    }
}
