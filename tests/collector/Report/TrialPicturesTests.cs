using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Commands;
using Cardassay.Collector.Report.Model;
using Cardassay.Fixtures;
using Cardassay.Trials;

namespace Cardassay.Collector.Tests.Report;

/// <summary>Stalls and temperatures as planted in single trials.</summary>
public class TrialPicturesTests
{
    [Fact]
    public void Stalls_OfAWritingKind_StandWhereTheyCame()
    {
        PointsPicture picture = Of((draw, trial) => trial.Kind != TrialKind.RandomWrite || draw.Run > 1 ? trial : trial with
        {
            StallLimitNs = 250_000_000, StallCount = 3, Stalls = [new Stall(7_000_000_000, 0, 400_000_000), new Stall(19_000_000_000 + draw.Run, 0, 900_000_000)],
        }).Single();
        PointsSeries series = Assert.Single(picture.Series);
        Assert.Equal("random write", series.Name);
        Assert.Equal([(7.0, 400.0), (7.0, 400.0)], series.Points.Where(p => p.Y < 500));
        Assert.StartsWith("6 stalls in 2 trials (random write); the longest took 900.0 ms, in second 19 of its trial. The picture shows 4 of them, the longest of each trial.", picture.Text, StringComparison.Ordinal);
    }

    [Fact]
    public void Stalls_VeryMany_TheLongestOfEachTrialAreDrawnAndTheRestCounted()
    {
        PointsPicture picture = Of((draw, trial) => trial.Kind != TrialKind.RandomWrite || draw.Run > 1 ? trial : trial with
        {
            StallLimitNs = 250_000_000, StallCount = 1000, Stalls = [.. Enumerable.Range(1, 1000).Select(i => new Stall(i * 10_000_000L, 0, 250_000_000L + (i * 1_000_000)))],
        }).Single();
        Assert.Equal(40, picture.Series[0].Points.Count);
        Assert.Equal(1231.0, picture.Series[0].Points.Min(p => p.Y));
        Assert.Contains("2000 stalls in 2 trials", picture.Text, StringComparison.Ordinal);
        Assert.Contains("The picture shows 40 of them, the longest of each trial.", picture.Text, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(10, true)]
    [InlineData(2, false)]
    public void Heat_OnlyWhereItMoved_IsHeldBesideTheFiguresWithoutNamingACause(int span, bool isShown)
    {
        PointsPicture[] pictures = Of(
            (draw, trial) => trial with { Before = At(draw.Run, span), After = At(draw.Run, span) },
            draw => draw.Run >= 6 ? 0.9 : 1);
        Assert.Equal(isShown, pictures.Length == 1);
        if (isShown)
        {
            Assert.Equal(["random read", "random write"], pictures[0].Series.Select(s => s.Name));
            Assert.Equal((40.0, 40.0 + span), (pictures[0].Series[0].Points[0].X, pictures[0].Series[0].Points[^1].X));
            Assert.Matches(@"^Trials at 40 to 50 °C .* random read -(9|10)\.\d %, random write -(9|10)\.\d %\. .* shows no cause\.$", pictures[0].Text);
        }
    }

    private static Conditions At(int run, int span) => new() { BusMode = "sd uhs SDR50", BusWidthBits = 4, UnderVoltage = false, Throttled = false, LinkErrors = 0, Temperatures = [new TemperatureReading("cpu", 40_000 + (run * span * 1000L / 11))] };

    private static PointsPicture[] Of(Func<SyntheticLaboratory.Draw, TrialMeasured, TrialMeasured> touch, Func<SyntheticLaboratory.Draw, double>? effect = null)
    {
        var laboratory = new SyntheticLaboratory { Cards = 1, RunsPerCard = 12, Noise = 0.002, Touch = touch, Effect = effect ?? (_ => 1) };
        ReportCard card = Assert.Single(ReportDesk.Model(laboratory.Build(), UseProfile.SystemDisk).Cards);
        Assert.All(card.TrialPictures, p => Assert.Contains(p.Text, card.Behaviour));
        return [.. card.TrialPictures];
    }
}
