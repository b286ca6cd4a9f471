using Cardassay.Identity;
using Cardassay.Registers;
using Cardassay.Trials;

namespace Cardassay.Demo.Tests;

/// <summary>Five things are planted in cards, and every other card is what it claims to be.</summary>
public sealed class PlantedFaultTests
{
    private const string Overstated = "T-15";
    private const string Relabelled = "T-04";
    private const string Worn = "T-03";
    private static readonly string[] Clones = ["T-08", "T-09"];

    public static TheoryData<string> Tags => [.. Tarrow24.ClaimsMade.Select(c => c.Tag)];

    [Theory]
    [MemberData(nameof(Tags))]
    public void Capacity_EveryCard_FitsTheLabelUnlessOverstated(string tag)
    {
        long bytes = Tarrow24.Register(tag, "csd", Csd.Parse).CapacityBytes!.Value;
        double share = bytes / 1e9 / (double)ClaimOf(tag).LabelGigabytes!.Value;

        Assert.Equal(bytes, Tarrow24.CardOf(tag).DiskBytes);
        // 0.969 to 1.030 over 20 public registers of 1 to 512 GB; beyond 0.93 to 1.075 is a mismatch.
        if (tag == Overstated)
        {
            Assert.InRange(share, 0.4, 0.6);
        }
        else
        {
            Assert.InRange(share, 0.969, 1.030);
        }
    }

    [Theory]
    [MemberData(nameof(Tags))]
    public void Registers_EveryCard_AreInOrder(string tag)
    {
        Cid cid = Tarrow24.Register(tag, "cid", Cid.Parse);
        Csd csd = Tarrow24.Register(tag, "csd", Csd.Parse);
        Scr scr = Tarrow24.Register(tag, "scr", Scr.Parse);
        SdStatus status = Tarrow24.Register(tag, "ssr", SdStatus.Parse);

        Assert.Equal((CrcState.Valid, CrcState.Valid), (cid.CrcState, csd.CrcState));
        Assert.Equal(csd.CapacityBytes > 1L << 35 ? CardFamily.Sdxc : CardFamily.Sdhc, csd.Family);
        Assert.Equal(csd.Family == CardFamily.Sdxc ? 4 : 3, scr.Security);
        Assert.Equal(CardIdentity.FromCid(cid).Text, Tarrow24.CardOf(tag).Identity);
        Assert.Equal(cid.Manufactured.ToString(), Turned(Tarrow24.CardOf(tag).Files["date"].Value!));
        Assert.Equal(10, status.SpeedClass);
        // A bought card was made before it was bought, and bought before it was tested.
        Claim claim = ClaimOf(tag);
        Assert.True(cid.Manufactured.CompareTo(ManufactureDate.Of(claim.Purchased!.Value)) < 0);
        Assert.True(claim.Purchased < new DateOnly(2026, 3, 2));
        // Public dates of the youngest feature: A2 and version 6.0 Feb 2017, A1 and 5.1 Nov 2016.
        Assert.True(cid.Manufactured.CompareTo(new ManufactureDate(2017, 2)) > 0);
    }

    [Fact]
    public void Csd_OfTheDriftAndTheFathom_EqualPublicRegistersOfThatSize()
    {
        // A public SDHC read-out of 15.93 GB and a public SDXC one of 62.28 GB, without their last two bytes (copy flag, checksum).
        Assert.StartsWith("400e00325b59000076b27f800a40", Tarrow24.CardOf("T-22").Files["csd"].Value, StringComparison.Ordinal);
        Assert.StartsWith("400e00325b590001cfff7f800a40", Tarrow24.CardOf("T-01").Files["csd"].Value, StringComparison.Ordinal);
    }

    [Theory]
    [MemberData(nameof(Tags))]
    public void Marks_EveryCard_AreDeclaredUnlessRelabelled(string tag)
    {
        SdStatus status = Tarrow24.Register(tag, "ssr", SdStatus.Parse);
        string[] declared =
        [
            "C10",
            .. status.UhsGrade > 0 ? [$"U{status.UhsGrade}"] : Array.Empty<string>(),
            .. status.VideoClass > 0 ? [$"V{status.VideoClass}"] : Array.Empty<string>(),
            .. status.ApplicationClass > 0 ? [$"A{status.ApplicationClass}"] : Array.Empty<string>(),
        ];

        if (tag == Relabelled)
        {
            Assert.NotEqual(ClaimOf(tag).Marks, declared);
        }
        else
        {
            Assert.Equal(ClaimOf(tag).Marks, declared);
        }
    }

    [Theory]
    [MemberData(nameof(Tags))]
    public void Registers_CardOfAProductWithReference_LookLikeItUnlessRelabelled(string tag)
    {
        Claim claim = ClaimOf(tag);
        Claim? reference = Tarrow24.ClaimsMade.FirstOrDefault(c => c.IsReference == true && c.Product == claim.Product);
        if (reference is null)
        {
            Assert.Contains(claim.Product, new[] { "Shoal", "Herald", "Keel", "Drift", "Bulwark Max" });
            return;
        }

        bool same = Looks(tag) == Looks(reference.Tag);
        Assert.Equal(tag != Relabelled, same);
    }

    [Fact]
    public void Identities_WholeSet_OnlyTheClonesShareOne()
    {
        IGrouping<string, string> shared = Assert.Single(
            Tarrow24.ClaimsMade.Select(c => c.Tag).GroupBy(t => Tarrow24.CardOf(t).Identity), g => g.Count() > 1);

        Assert.Equal(Clones, shared.Order());
        Assert.Empty(BoardsOf(Clones[0]).Intersect(BoardsOf(Clones[1])));
    }

    [Theory]
    [MemberData(nameof(Tags))]
    public void Wear_EveryCard_OnlyTheUsedOneSlowsDownAndStalls(string tag)
    {
        long stalls = Tarrow24.TrialsOf(tag).Sum(t => t.StallCount);
        if (tag != Worn)
        {
            Assert.Equal((CardCondition.New, 0L), (ClaimOf(tag).Condition, stalls));
            return;
        }

        Assert.Equal(CardCondition.Used, ClaimOf(tag).Condition);
        Assert.True(stalls > 50);
        foreach (TrialKind kind in Tarrow24.Kinds)
        {
            double[] nights = NightMedians(tag, kind);
            Assert.Equal(3, nights.Length);
            Assert.True(nights[0] > nights[1] && nights[1] > nights[2], $"{kind}: {string.Join(", ", nights)}");
        }

        Assert.InRange(NightMedians(tag, TrialKind.RandomWrite)[2] / NightMedians(tag, TrialKind.RandomWrite)[0], 0.85, 0.95);
    }

    [Theory]
    [MemberData(nameof(Tags))]
    public void Figures_EveryCard_KeepMarksAndStatedSpeedsUnlessRelabelled(string tag)
    {
        if (tag == Relabelled)
        {
            Assert.True(Lowest(tag, TrialKind.SequentialWrite) < 30);
            return;
        }

        Claim claim = ClaimOf(tag);
        // Minimum MB/s of the marks (SD Part 1 Physical Layer 4.10, tables 4-56 f. and 4-60) and IOPS of A1 (SD Association's
        // public pages). A host without command queue owes A2 no more than A1; the slot of 25 MB/s owes U and V nothing.
        double write = Lowest(tag, TrialKind.SequentialWrite);
        bool slow = Tarrow24.TrialsOf(tag).First().Before.BusMode == "sd high-speed";
        Assert.True(write > (claim.Marks!.Contains("U3") && !slow ? 30 : 10));
        if (claim.Marks!.Any(m => m is "A1" or "A2"))
        {
            Assert.True(Lowest(tag, TrialKind.RandomRead) > 1500);
            Assert.True(Lowest(tag, TrialKind.RandomWrite) > 500);
        }

        Assert.True(write > (claim.StatedWriteMegabytesPerSecond ?? 0));
        Assert.True(Lowest(tag, TrialKind.SequentialRead) > (claim.StatedReadMegabytesPerSecond ?? 0));
    }

    [Fact]
    public void Sprat_AgainstEveryOther_IsFasterAndCheaperThanWhatComesNext()
    {
        string[] sprats = ["T-19", "T-20", "T-21"];
        foreach (TrialKind kind in Tarrow24.Kinds)
        {
            double slowestSprat = sprats.Min(t => Tarrow24.Median(Tarrow24.MeasuredOf(t, kind).Select(Tarrow24.Figure)));
            double bestOther = Tarrow24.ClaimsMade.Select(c => c.Tag).Except(sprats)
                .Max(t => Tarrow24.Median(Tarrow24.MeasuredOf(t, kind).Select(Tarrow24.Figure)));
            Assert.True(kind == TrialKind.SequentialRead || slowestSprat > bestOther * 1.05, $"{kind}: {slowestSprat} and {bestOther}");
        }

        decimal price = sprats.Max(t => ClaimOf(t).Price!.Value);
        Assert.Equal("Drift", Assert.Single(Tarrow24.ClaimsMade.Where(c => c.Price < price).Select(c => c.Product).Distinct()));
    }

    [Fact]
    public void Noise_EveryRun_IsSteadyEnoughToSettle()
    {
        // Half the spread of 7 repetitions is the half-width of the widest interval; 5 % of the median is the limit.
        Assert.All(
            Tarrow24.All.OfType<TrialMeasured>().Where(t => t.Role == TrialRole.Measured && t.Valid).GroupBy(t => (t.RunId, t.Kind)),
            run =>
            {
                double[] figures = [.. run.Select(Tarrow24.Figure)];
                Assert.InRange((figures.Max() - figures.Min()) / 2 / Tarrow24.Median(figures), 0, 0.05);
            });
    }

    private static Claim ClaimOf(string tag) => Tarrow24.ClaimsMade.Single(c => c.Tag == tag);

    private static (int, int, string, string, string, string) Looks(string tag)
    {
        Cid cid = Tarrow24.Register(tag, "cid", Cid.Parse);
        CardIdentified card = Tarrow24.CardOf(tag);
        return (cid.ManufacturerId, cid.OemId, cid.ProductName, cid.ProductRevision, card.Files["scr"].Value!, card.Files["ssr"].Value!);
    }

    private static IEnumerable<string> BoardsOf(string tag) => Tarrow24.RunsByTag[tag].Select(r => r.HostName).Distinct();

    private static double Lowest(string tag, TrialKind kind) => Tarrow24.MeasuredOf(tag, kind).Min(Tarrow24.Figure);

    private static double[] NightMedians(string tag, TrialKind kind) =>
        [.. Tarrow24.RunsByTag[tag].Select(r => Tarrow24.TrialsByRun[r.RunId].Where(t => t.Kind == kind && t.Role == TrialRole.Measured).Select(Tarrow24.Figure).ToArray())
            .Where(v => v.Length > 0).Select(Tarrow24.Median)];

    private static string Turned(string monthAndYear) => $"{monthAndYear[3..]}-{monthAndYear[..2]}";
}
