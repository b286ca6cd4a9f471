using System.Globalization;
using Cardassay.Identity;
using Cardassay.Trials;

namespace Cardassay.Judging;

/// <summary>What a test of two slots came to.</summary>
public enum SlotsWord
{
    /// <summary>Neither the one nor the other is shown.</summary>
    NotShown = 0,

    /// <summary>Whatever was tried makes less than <see cref="SlotsTogether.Margin"/> of a difference.</summary>
    DoNotDisturb = 1,

    /// <summary>Something that was tried makes more.</summary>
    Disturb = 2,
}

/// <summary>The answer for one use of two slots.</summary>
/// <param name="Word">The answer.</param>
/// <param name="Text">What it rests on, one sentence.</param>
/// <param name="Settles">What would settle it, one sentence; "" where nothing is open.</param>
public sealed record SlotsJudgement(SlotsWord Word, string Text, string Settles);

/// <summary>
/// Do two slots of a board disturb each other? Equivalence is shown, not assumed: for every comparison two one-sided t tests, that is, the
/// interval at 95 % of the mean ratio lies within the margin (Schuirmann, Journal of Pharmacokinetics and Biopharmaceutics 1987). All must
/// pass, which keeps the risk of one test for the whole (Berger, Technometrics 1982). And nothing stalled more often together than alone.
/// </summary>
public static class SlotsTogether
{
    /// <summary>A difference of speed that may not be, as a part.</summary>
    public const double Margin = 0.03;

    /// <summary>Fewer rounds say nothing, however alike they are.</summary>
    public const int LeastRounds = 6;

    /// <summary>Confidence of the interval; each of the two tests then has a risk of 2.5 %.</summary>
    private const double Confidence = 0.95;

    /// <summary>More rounds than this are not asked for: it is then not a matter of time.</summary>
    private const int MostRounds = 200;

    private static readonly double s_margin = Math.Log(1 + Margin);

    /// <summary>By the number of rounds; asked for often.</summary>
    private static readonly Lazy<double[]> s_bounds = new(
        () => [.. Enumerable.Range(0, MostRounds)
            .Select(rounds => rounds < 2 ? double.PositiveInfinity : StudentT.Bound(Confidence, rounds - 1))]);

    /// <summary>Judges what was measured.</summary>
    /// <param name="all">The comparisons, of both cards.</param>
    /// <param name="writes">Whether one of the two runs may write; false asks of two that only read.</param>
    public static SlotsJudgement Judge(IReadOnlyCollection<SlotComparison> all, bool writes)
    {
        SlotComparison[] asked = [.. all.Where(c => writes || !c.Writes)];
        if (!IsWhole(asked, writes))
        {
            return new SlotsJudgement(
                SlotsWord.NotShown,
                writes ? "Nothing was written in the test, so that it says nothing of plans that write." : "The test is not whole.",
                writes ? "Test again with --erase for both cards." : "Test again.");
        }

        SlotComparison[] disturbed = [.. asked.Where(c => Disturbs(c, asked.Length)).OrderBy(c => c.MeanLogRatio)];
        if (disturbed.Length > 0)
        {
            return new SlotsJudgement(SlotsWord.Disturb, Worst(disturbed[0]), "");
        }

        SlotComparison[] open = [.. asked.Where(c => !IsAlike(c))];
        if (open.Length > 0)
        {
            return new SlotsJudgement(SlotsWord.NotShown, Worst(open.MaxBy(RoundsNeeded)!), Settles(open));
        }

        SlotComparison widest = asked.MaxBy(c => Math.Abs(c.MeanLogRatio) + HalfWidth(c))!;
        return new SlotsJudgement(SlotsWord.DoNotDisturb,
            $"Of {asked.Length.ToString(CultureInfo.InvariantCulture)} comparisons the least sure: {Worst(widest)}", "");
    }

    /// <summary>One comparison in words: what was timed, beside what, its ratio with the interval, and the stalls.</summary>
    public static string Words(SlotComparison one)
    {
        string stalls = one.Together.Stalls + one.Alone.Stalls == 0 ? "" : string.Create(
            CultureInfo.InvariantCulture,
            $", stalls {one.Together.Stalls} in {one.Together.Seconds:0} s together and {one.Alone.Stalls} in "
                + $"{one.Alone.Seconds:0} s alone");
        return string.Create(
            CultureInfo.InvariantCulture,
            $"{TrialKinds.WordsOf(one.Kind)} in {one.Disk} beside {TrialKinds.WordsOf(one.BesideKind)} in {one.BesideDisk}: "
                + $"{Interval(one)} of {one.Rounds} rounds{stalls}");
    }

    private static string Worst(SlotComparison one) => Words(one) + ".";

    private static string Interval(SlotComparison one) => one.Rounds < 2
        ? string.Create(CultureInfo.InvariantCulture, $"{Percent(one.MeanLogRatio)}, no interval")
        : string.Create(CultureInfo.InvariantCulture, $"{Percent(one.MeanLogRatio)} ({Percent(one.MeanLogRatio - HalfWidth(one))} to "
            + $"{Percent(one.MeanLogRatio + HalfWidth(one))} at 95 %)");

    private static string Percent(double log) =>
        string.Create(CultureInfo.InvariantCulture, $"{Math.Clamp(100 * (Math.Exp(log) - 1), -100, 9_999):+0.0;-0.0;0.0} %");

    /// <summary>Both directions of every kind beside every kind: no half of a test passes for the whole.</summary>
    private static bool IsWhole(SlotComparison[] all, bool writes)
    {
        string[] disks = [.. all.Select(c => c.Disk).Distinct()];
        TrialKind[] kinds = [.. all.Select(c => c.Kind).Distinct()];
        return disks.Length == 2 && kinds.Any(TrialKinds.Writes) == writes && kinds.Any(k => !TrialKinds.Writes(k))
            && all.Select(c => (c.Disk, c.Kind, c.BesideKind)).Distinct().Count() == disks.Length * kinds.Length * kinds.Length;
    }

    private static bool IsAlike(SlotComparison one) =>
        one.Rounds >= LeastRounds && Math.Abs(one.MeanLogRatio) + HalfWidth(one) < s_margin && !StallsMore(one);

    private static bool Disturbs(SlotComparison one, int comparisons) => one.Rounds >= LeastRounds
        && (Math.Abs(one.MeanLogRatio) - HalfWidth(one) > s_margin || (StallsMore(one) && StallsAreShown(one, comparisons)));

    private static double HalfWidth(SlotComparison one) =>
        one.Rounds < 2
            ? double.PositiveInfinity
            : s_bounds.Value[Math.Min(one.Rounds, MostRounds - 1)] * one.SdLogRatio / Math.Sqrt(one.Rounds);

    /// <summary>
    /// More of them in a second together than alone, also where chance may explain it: what speaks for a
    /// disturbance is not called none.
    /// </summary>
    private static bool StallsMore(SlotComparison one) =>
        one.Together.Stalls > 0 && one.Together.Stalls * one.Alone.Seconds > one.Alone.Stalls * one.Together.Seconds * (1 + 1e-9);

    /// <summary>
    /// Whether more fell into the time together than its part of all time, beyond chance at 5 % for all comparisons together (two Poisson
    /// rates compared by the binomial law: Przyborowski and Wilenski, Biometrika 1940).
    /// </summary>
    private static bool StallsAreShown(SlotComparison one, int comparisons) => comparisons * BinomialBound.AtLeast(
        one.Together.Stalls, one.Together.Stalls + one.Alone.Stalls,
        one.Together.Seconds / (one.Together.Seconds + one.Alone.Seconds)) <= 0.05;

    /// <summary>
    /// Rounds by which the interval would lie within the margin when mean and spread stay as they are;
    /// <see cref="MostRounds"/> where none would do.
    /// </summary>
    private static int RoundsNeeded(SlotComparison one)
    {
        double room = s_margin - Math.Abs(one.MeanLogRatio);
        for (int rounds = LeastRounds; rounds < MostRounds; rounds++)
        {
            if (room > 0 && s_bounds.Value[rounds] * one.SdLogRatio / Math.Sqrt(rounds) < room)
            {
                return rounds;
            }
        }

        return MostRounds;
    }

    private static string Settles(SlotComparison[] open)
    {
        int rounds = open.Max(RoundsNeeded);
        return rounds >= MostRounds
            ? "More rounds will hardly settle it: what is seen lies too near the margin, or scatters too much; "
                + "leave the slots to one run at a time."
            : open.Any(StallsMore) ? "Test again with twice the rounds: there were more stalls together than alone, which may be chance."
            : string.Create(CultureInfo.InvariantCulture,
                $"Test again with about {Math.Max(rounds + (rounds / 4), 2 * LeastRounds)} rounds, on a board that does nothing else.");
    }
}
